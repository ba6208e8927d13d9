#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "measure/clip/line_prediction.h"
#include "measure/clip_measurement.h"
#include "rows/kernels.h"

namespace guardband::measure {

/// `made_up_lines`, text: what became of the lines of one field where a clip was de-interlaced before it was stored:
/// `averaged` (each is the mean of the lines around it), `doubled` (each is a copy of its neighbour), `interpolated`
/// (all lines follow from half as many), `made up` (they hold less detail and noise than the lines between them, or
/// other, as after a de-interlacer that follows edges or motion); `none` otherwise.
///
/// Method: some rows of either field, others in each frame. An averaged line differs from the mean of its neighbours by
/// rounding alone, those between don't; a doubled one from its neighbour not at all. Of pictures that were stretched to
/// twice their lines each sample follows from the three above and the three below it (`Prediction`), by weights that
/// are mirrored from line to line, but for rounding; along the line it doesn't. Lines made up in other ways lie nearer
/// to the mean of their neighbours than those do that were taken (by 15 % in energy and more), or follow from their
/// neighbours better or less well (by 8 %); test signals and FFmpeg's pictures: by 2 and 4 %. That is said only where
/// both fields show one moment, since two heads may differ in interlaced clips; nor are lines said to be copies where
/// the fields show two moments, since titles may roll by a line a field. Even and odd frames are held apart: of clips
/// at field rate each second frame keeps the other field.
///
/// Needs detail of some codes from line to line. Can't tell: fields that were mixed, with all lines alike (see
/// `MotionEcho`); averaged, doubled and interpolated lines that a lossy codec has gone over. Those that were made up in
/// other ways are told through H.264 and MPEG-2 as well.
class MadeUpLines final : public ClipMeasurement {
public:
    explicit MadeUpLines(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    /// Of the lines of one parity; squared codes, summed.
    struct Sums {
        double from_mean = 0;   ///< differences to the mean of the lines around, times four
        double from_above = 0;  ///< differences to the line above
        double from_below = 0;  ///< differences to the line below
        double around = 0;      ///< differences of the lines around to each other
        double across = 0;      ///< detail along the lines
        double samples = 0;     ///< that were compared
    };

    /// Of a logarithm of how the lines of the two parities compare, frame by frame.
    struct Scatter {
        double sum = 0, squares = 0, count = 0;

        void add(double value) { sum += value, squares += value * value, ++count; }
        bool stands_out(double least) const;
    };

    template <typename Sample>
    void predict(const media::Frame& frame);
    void compare_rows(const media::Frame& frame);
    template <typename Sample>
    void add_row(const media::Plane& plane, int y);
    quantity::Figure figure() const;
    std::optional<quantity::Figure> plain_figure(std::size_t parity) const;
    bool is_interpolated() const;
    bool differ_by_field() const;

    const ClipContext& context_;
    std::array<Sums, 2> sums_{};                    ///< by parity of the line
    std::array<std::vector<double>, 2> from_mean_;  ///< of a row of each parity, cell by cell
    std::array<Scatter, 2> nearer_{};  ///< of the distances from the mean, cell by cell; by parity of the frame
    std::array<Prediction, 2> down_;   ///< by parity of the line
    Prediction along_;
    std::array<Scatter, 2> unlike_{};  ///< of what does not follow, of the two parities; by parity of the frame
    std::vector<bool> steps_;          ///< by row: it differs from the one above
    std::vector<std::uint32_t> differences_;
    std::vector<rows::CombMoments> moments_;
};

}  // namespace guardband::measure
