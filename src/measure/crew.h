#pragma once

#include <condition_variable>
#include <cstddef>
#include <exception>
#include <functional>
#include <mutex>
#include <thread>
#include <vector>

namespace guardband::measure {

/// A few threads that share out small jobs, and sleep between them. Who is free takes the next job, so that uneven jobs
/// and threads that others hold up cost little.
class Crew {
public:
    /// @param threads  that work, the caller's among them; at least 1. Where the machine gives fewer, fewer do.
    explicit Crew(int threads);
    ~Crew();
    Crew(const Crew&) = delete;
    Crew& operator=(const Crew&) = delete;

    /// Does `job(0)` … `job(count - 1)`, each once, begun in this order on whichever thread is free, and returns when
    /// all are done. What the caller did before, each job sees; what the jobs did, the caller sees.
    /// @throws what a job threw, the first if several did, once no job runs any more; jobs not yet begun are left out
    void run(std::size_t count, const std::function<void(std::size_t)>& job);

private:
    void stand_by();
    void take_jobs(std::unique_lock<std::mutex>& lock);
    void leave();

    std::mutex mutex_;
    std::condition_variable jobs_, done_;
    const std::function<void(std::size_t)>* job_ = nullptr;
    std::size_t next_ = 0, count_ = 0, running_ = 0;
    std::exception_ptr failure_;
    bool leaving_ = false;
    std::vector<std::thread> threads_;
};

}  // namespace guardband::measure
