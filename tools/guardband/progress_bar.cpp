#include "guardband/progress_bar.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/text_table.h"

namespace guardband::command_line {
namespace {

constexpr int cells = 24;

std::string minutes_and_seconds(double seconds) {
    const auto whole = std::lround(std::clamp(seconds, 0.0, 359999.0));
    return whole < 3600 ? fmt::format("{}:{:02}", whole / 60, whole % 60)
                        : fmt::format("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60);
}

}  // namespace

std::string progress_text(double done_share, std::chrono::duration<double> elapsed) {
    const double share = std::clamp(done_share, 0.0, 1.0);
    const auto filled = static_cast<std::size_t>(std::lround(share * cells));
    std::string text =
        std::string(filled, '=') + std::string(cells - filled, '.') + fmt::format(" {:3.0f} %", share * 100);
    // In the first moments an estimate of the rest would only jump about.
    if (share > 0.01 && elapsed.count() > 0.5)
        text += ", " + minutes_and_seconds(elapsed.count() * (1 - share) / share) + " left";
    return text;
}

ProgressBar::~ProgressBar() {
    if (drawn_width_ > 0) err_ << "\r" << std::string(drawn_width_, ' ') << "\r" << std::flush;
}

void ProgressBar::show(double done_share, std::chrono::duration<double> elapsed, const std::string& what) {
    if (!shown_) return;
    const std::string line = progress_text(done_share, elapsed) + ", " + what;
    const std::size_t width = report::display_width(line);
    err_ << "\r" << report::padded(line, drawn_width_) << std::flush;
    drawn_width_ = std::max(drawn_width_, width);
}

}  // namespace guardband::command_line
