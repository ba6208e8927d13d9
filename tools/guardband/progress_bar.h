#pragma once

#include <chrono>
#include <cstddef>
#include <ostream>
#include <string>

namespace guardband::command_line {

/// One line on a terminal that tells how far a long piece of work has come: share done, rate, time left. Erased when
/// the work ends, however it ends.
class ProgressBar {
public:
    /// @param shown  false: draws nothing (standard error is no terminal)
    ProgressBar(std::ostream& err, bool shown) : err_(err), shown_(shown) {}
    ~ProgressBar();
    ProgressBar(const ProgressBar&) = delete;
    ProgressBar& operator=(const ProgressBar&) = delete;

    /// @param done_share  0 to 1; beyond that it is cut  @param what  what has been done, e.g. `250 frames, 480
    /// frames/s`
    void show(double done_share, std::chrono::duration<double> elapsed, const std::string& what);

private:
    std::ostream& err_;
    bool shown_;
    std::size_t drawn_width_ = 0;
};

/// `[#######·····] 58 %  1:12 left`: the text of such a line, for a share above 0.
std::string progress_text(double done_share, std::chrono::duration<double> elapsed);

}  // namespace guardband::command_line
