#include "measure/clip/displacement_store.h"

#include <utility>

namespace guardband::measure {

void DisplacementStore::follow(const DisplacementTrack& track) {
    const auto moved = track.moved_down();
    scene_ = {scene_.number + (moved ? 0 : 1), scene_.lower + moved.value_or(0), moved.value_or(0)};
}

void DisplacementStore::add(std::int64_t index, const DisplacementTrack& track) {
    const bool has_edges = track.has_edges(0) && track.has_edges(1);
    if (has_edges_ && !has_edges) return void(++scene_.number);  // where it lies is not followed there
    if (has_edges && !has_edges_) frames_.clear(), has_edges_ = true, every_ = 1;
    follow(track);
    if (index % every_ != 0) return;
    if (frames_.size() >= capacity_) {
        std::size_t kept = 0;
        for (std::size_t i = 0; i < frames_.size(); i += 2) std::swap(frames_[kept++], frames_[i]);
        frames_.resize(kept);
        every_ *= 2;
        if (index % every_ != 0) return;
    }
    auto& [fields, steps, scene] = frames_.emplace_back();
    scene = scene_;
    for (std::size_t parity = 0; parity < 2; ++parity) {
        const PlacedLines& lines = track.field(parity);
        fields[parity].resize(lines.size());
        steps[parity].assign(track.steps(parity).begin(), track.steps(parity).end());
        for (std::size_t i = 0; i < lines.size(); ++i)
            // Without edges only what differs from line to line is to be had: slow courses are taken out later.
            fields[parity][i] = {lines.place_px[i], has_edges ? lines.variance[i] : lines.step_variance[i],
                                 lines.step_variance[i], lines.left_px[i], lines.right_px[i]};
        for (std::size_t i = 0; i < lines.pair_variance.size(); ++i)
            fields[parity][i].pair_variance = lines.pair_variance[i];
        for (std::size_t i = 0; i < lines.off_mean_px.size(); ++i) fields[parity][i].off_mean_px = lines.off_mean_px[i];
    }
}

}  // namespace guardband::measure
