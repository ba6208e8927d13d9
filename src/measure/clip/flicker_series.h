#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <vector>

#include "measure/clip/brightness_grid.h"

namespace guardband::measure {

/// Relative change of light from frame to frame, cell by cell, ready for a spectrum. One sample per frame; a cell's own
/// picture has been divided out.
struct LightChange {
    std::size_t length = 0;     ///< frames
    std::vector<float> change;  ///< of cell c in frame n at `c * length + n`; bridged where it can't be used
    std::vector<float>
        weight;  ///< per frame, ≥ 0: large in quiet stretches, small where much moves; all 0 if none can be used
    std::vector<float> bridged;    ///< per frame: 1 where the change was not measured but bridged: cuts, gaps, repeats
    std::vector<double> position;  ///< per frame: how far the picture lies below where it was, in picture heights
    std::vector<double> pan;       ///< per frame: how far the picture moved to the right since the one before, samples
    std::array<bool, BrightnessGrid::cells> lit{};  ///< cells that were bright enough for most of the time

    std::span<const float> cell(std::size_t c) const { return std::span(change).subspan(c * length, length); }
};

/// Light of the cells over a stretch of a clip, and its change.
///
/// Differences between frames are used rather than the light itself: the light of a cell wanders with the picture like
/// a random walk, so that its change is nearer to white noise, and a cut is one sample that can be left out.
class FlickerSeries {
public:
    /// @param capacity  most frames that it can hold
    explicit FlickerSeries(std::size_t capacity);

    std::size_t length() const { return length_; }
    bool is_full() const { return length_ == capacity_; }

    /// Adds a frame; there must be room.
    /// @param light  `BrightnessGrid::cells` values  @param repeat  the frame is equal to the one before it
    /// @param position  how far the picture lies below where it was at first, in picture heights
    /// @param pan  how far it moved to the right since the frame before, samples
    void add(std::span<const float> light, bool repeat, double position = 0, double pan = 0);
    /// Adds a frame of which nothing is known.
    void add_gap();
    /// Starts anew; keeps the memory.
    void clear() { length_ = 0; }

    /// What changed over the stretch. Cuts and flashes are found as frames in which most cells change far more than
    /// they usually do.
    LightChange change() const;

private:
    enum class Kind : unsigned char { Picture, Repeat, Gap };

    std::span<const float> cell(std::size_t c) const { return std::span(light_).subspan(c * capacity_, length_); }
    std::vector<float> comparable_frames() const;
    std::vector<float> activity(const std::vector<float>& usable, LightChange& result) const;

    std::size_t capacity_, length_ = 0;
    std::vector<float> light_;  // cell by cell
    std::vector<Kind> kinds_;
    std::vector<double> positions_, pans_;
};

}  // namespace guardband::measure
