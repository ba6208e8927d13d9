#include "measure/clip/lost_lines.h"

#include <algorithm>

#include <fmt/format.h>

#include "measure/clip/luma_range.h"

namespace guardband::measure {
namespace {

constexpr std::int64_t join_within = 5;
constexpr std::size_t most_lost_stretches = 50;
constexpr std::size_t first_line = 2;
/// Of the range from black to white: what an edge must rise by to be seen well.
constexpr double dark_share = 0.12;
constexpr int first_segment = 1, segments = 2;

}  // namespace

LostLines::LostLines(const ClipContext& context) : clock_(context.info.time_base) {
    const LumaRange range = luma_range(context.info.picture, context.table);
    dark_code_ = range.black + dark_share * (range.white - range.black);
}

bool LostLines::is_dark(const FrameFeatures& features, int row) const {
    const auto& sums = features.segment_sums;
    if (sums.width < 2 * (first_segment + segments) || row >= sums.height) return false;
    double left = 0, right = 0;
    for (int s = first_segment; s < first_segment + segments; ++s)
        left += sums.at(s, row), right += sums.at(sums.width - 1 - s, row);
    return std::max(left, right) < dark_code_ * segments * FrameFeatures::segment;
}

void LostLines::note(const media::Frame& frame, double time_s, std::size_t first, std::size_t end) {
    const auto lines = static_cast<std::int64_t>(end - first);
    if (stretches_.empty() || frame.index - stretches_.back().last_frame > join_within) {
        if (stretches_.size() == most_lost_stretches) {
            ++more_;
            return;
        }
        stretches_.push_back({frame.index, frame.index, 0, first, end - 1, time_s});
    }
    Stretch& stretch = stretches_.back();
    stretch.last_frame = frame.index, stretch.lines += lines;
    stretch.first_line = std::min(stretch.first_line, first), stretch.last_line = std::max(stretch.last_line, end - 1);
}

void LostLines::see(const media::Frame& frame, const FrameFeatures& features, const DisplacementTrack& track) {
    const double time_s = clock_.time_s(frame);
    bool any = false;
    for (std::size_t parity = 0; parity < 2; ++parity) {
        if (!track.has_edges(parity)) continue;
        const PlacedLines& lines = track.field(parity);
        for (std::size_t i = first_line, first = first_line; i <= lines.size(); ++i) {
            const bool lost = i < lines.size() && lines.variance[i] >= placed_variance &&
                              !is_dark(features, static_cast<int>(2 * i + parity));
            if (lost) continue;
            if (i >= first + static_cast<std::size_t>(fewest_lines)) note(frame, time_s, first, i), any = true;
            first = i + 1;
        }
    }
    frames_ += track.has_edges(0) ? 1 : 0, frames_with_lost_ += any ? 1 : 0;
}

void LostLines::finish(std::vector<quantity::Event>& events) const {
    if (2 * frames_with_lost_ > frames_) return;
    for (const Stretch& stretch : stretches_) {
        quantity::Event event;
        event.kind = "lines lost", event.severity = quantity::Severity::Warning;
        event.time_s = stretch.time_s, event.frame = stretch.frame;
        event.count = stretch.last_frame - stretch.frame + 1;
        event.what = fmt::format("{} lines could not be placed, between lines {} and {} of the fields, {} frames",
                                 stretch.lines, stretch.first_line, stretch.last_line, *event.count);
        events.push_back(event);
    }
    if (more_ > 0) events.back().what += fmt::format("; and {} times more further on", more_);
}

}  // namespace guardband::measure
