#pragma once

#include <vector>

#include "measure/clip/conversion_fit.h"
#include "measure/clip/weave_sums.h"
#include "measure/features.h"

namespace guardband::measure {

/// What the parts of the picture that move did over a second or so of a clip.
class MotionWindow {
public:
    static constexpr std::size_t frames = 30;  ///< whole turns of 5 and of 6 fields, and of as many frames

    /// @param black  code of black, at the clip's bit depth
    explicit MotionWindow(double black) : black_(black) { stored_.resize(frames); }

    /// Shows the next frame. @returns whether the window is full; the next frame then begins another
    bool add(const FrameFeatures& features);
    bool is_empty() const { return count_ == 0; }

    /// Of the frames added so far.
    MotionSeries fields(bool bottom_first);
    MotionSeries whole_frames();
    /// Whether enough moves for either to mean something.
    bool moves() const;

    /// Whether the two fields of one moment lie in two frames: those of neighbouring frames comb less than those of a
    /// frame, and than those that lie three fields apart.
    bool lies_across_frames(bool bottom_first) const;

private:
    /// Sums over cells of one frame.
    struct Stored {
        std::vector<float> change[2], across[2], along[2];
        std::vector<float> own, top_with_previous_bottom, bottom_with_previous_top;
        std::vector<float> brightness[2];  ///< of each row of cells, above black
    };

    void choose_cells();
    double sum(const std::vector<float>& cells) const;
    void find_usual_light();
    double detail(const Stored& frame, std::size_t parity, const std::vector<float>& cells) const;
    double light(const Stored& frame, std::size_t parity) const;

    double black_;
    std::vector<Stored> stored_;
    std::size_t count_ = 0;
    bool full_ = false;
    WeaveSummer summer_;
    WeaveSums weave_;
    std::size_t cells_ = 0, width_ = 0;
    std::vector<std::uint32_t> moving_;
    std::vector<float> motion_, scratch_;
    std::vector<double> usual_light_;  ///< of each row of cells, over the window
};

}  // namespace guardband::measure
