#include "measure/crew.h"

#include <system_error>
#include <utility>

namespace guardband::measure {

Crew::Crew(int threads) {
    try {
        for (int i = 1; i < threads; ++i) threads_.emplace_back([this] { stand_by(); });
    } catch (const std::system_error&) {  // no more threads to be had: those that are here will do
    } catch (...) {
        leave();
        throw;
    }
}

Crew::~Crew() { leave(); }

void Crew::leave() {
    {
        const std::lock_guard lock(mutex_);
        leaving_ = true;
    }
    jobs_.notify_all();
    for (std::thread& thread : threads_) thread.join();
}

void Crew::run(std::size_t count, const std::function<void(std::size_t)>& job) {
    std::unique_lock lock(mutex_);
    job_ = &job, next_ = 0, count_ = count;
    jobs_.notify_all();
    take_jobs(lock);
    done_.wait(lock, [this] { return running_ == 0; });
    if (failure_) std::rethrow_exception(std::exchange(failure_, nullptr));
}

/// A thread that wakes too late finds no job left, and nobody waits for it.
void Crew::stand_by() {
    std::unique_lock lock(mutex_);
    for (;;) {
        jobs_.wait(lock, [this] { return leaving_ || next_ < count_; });
        if (leaving_) return;
        take_jobs(lock);
    }
}

void Crew::take_jobs(std::unique_lock<std::mutex>& lock) {
    while (next_ < count_) {
        const std::size_t mine = next_++;
        ++running_;
        lock.unlock();
        std::exception_ptr failure;
        try {
            (*job_)(mine);
        } catch (...) {
            failure = std::current_exception();
        }
        lock.lock();
        --running_;
        if (failure) {
            next_ = count_;
            if (!failure_) failure_ = std::move(failure);
        }
    }
    if (running_ == 0) done_.notify_one();
}

}  // namespace guardband::measure
