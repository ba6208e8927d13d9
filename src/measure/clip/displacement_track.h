#pragma once

#include <array>
#include <limits>
#include <optional>
#include <span>
#include <vector>

#include "measure/clip/earlier_places.h"
#include "measure/clip/edge_consensus.h"
#include "measure/clip/field_shifts.h"
#include "measure/clip/line_chain.h"
#include "measure/clip/line_wander.h"
#include "measure/clip/picture_edges.h"
#include "measure/clip/row_shift.h"
#include "measure/clip/step_changes.h"
#include "measure/clip/still_errors.h"
#include "measure/clip/weak_stretches.h"

namespace guardband::measure {

/// By how much a line lies to the right of the line above, as its picture shows it in one field; by its left and right
/// part alone, too. Not numbers where nothing, or too little, is seen.
struct SeenStep {
    float px = std::numeric_limits<float>::quiet_NaN();
    float left_px = std::numeric_limits<float>::quiet_NaN(), right_px = std::numeric_limits<float>::quiet_NaN();
};

/// The displacement of every line of one field after another.
///
/// Method, three kinds of evidence, put together by `LineChain` once `EdgeConsensus` has taken out what contradicts the
/// rest: the picture's edges against captured blanking (`PictureEdges`); the picture of each line against the line
/// above; and against the same line of the frame before, cell by cell and as a difference to the line above, so that
/// motion drops out wherever both lines see the same thing move. The last is added to the step that the frame before
/// had there, whose variance is carried along (a Kalman filter per line), so that steps which return in each field
/// become ever surer and what slanting outlines do to the second kind averages out as they move. Where edges place the
/// lines, the frame before is asked while the scene rests only, where each line lay in it: `EarlierPlaces`.
///
/// Without blanking a field's displacement as a whole can't be told from the scene's motion: the mean over the middle
/// half of each field is then 0. A picture whose upright outlines all slant the same way, and stand still, is taken for
/// a slant of the lines.
class DisplacementTrack {
public:
    /// @param black_code, codec_error  as `EdgeShape` has them
    DisplacementTrack(const media::PictureFormat& format, double black_code, double codec_error = 0);

    /// Shows both fields of a frame. `field(0)` are the frame's rows 0, 2, 4 …
    void see(const media::Frame& frame);
    const PlacedLines& field(std::size_t parity) const { return fields_[parity].lines; }
    /// Whether the places of this field rest on edges, so that they are those of the line and not only relative.
    bool has_edges(std::size_t parity) const { return fields_[parity].has_edges; }
    /// With edges, how many lines of a field the scene has gone down since the frame before, by both fields; nothing
    /// where it can't be followed.
    std::optional<float> moved_down() const;
    /// Without edges, what each line's picture by itself says of its step from the line above; else empty.
    std::span<const SeenStep> steps(std::size_t parity) const { return fields_[parity].steps; }
    /// What the fields say of jitter that no edges placed.
    const StepChanges& step_changes() const { return step_changes_; }

private:
    struct Field {
        PlacedLines lines;
        std::vector<SeenStep> steps;
        LineWander wander;
        EarlierPlaces earlier;
        bool has_edges = false;
    };

    void see_field(const media::Frame& frame, std::size_t parity);
    void compare_rows(const media::Frame& frame, std::size_t parity, bool with_before);
    float guess_above(std::size_t line, const PlacedLines* last) const;
    bool most_rest() const;
    void add_halves(std::vector<SeenStep>& seen);
    void add_steps();
    void add_changes(Field& field);
    void calibrate(float apart, float stated);
    void solve(Field& field);
    void centre(PlacedLines& lines);

    media::PictureFormat format_;
    PictureEdges edges_;
    RowShifts shifts_;
    EdgeConsensus consensus_;
    WeakStretches weak_stretches_;
    LineChain chain_;
    StillErrors still_errors_;
    std::vector<char> rests_;
    std::array<Field, 2> fields_;
    StepChanges step_changes_;
    std::optional<media::Frame> previous_;
    std::vector<LineEvidence> places_, other_places_, steps_;
    std::vector<float> step_left_, step_right_;
    std::array<FilteredRow, 2> rows_;  ///< the line and the line above, by turns
    FilteredRow row_before_;
    /// Of the field's lines against those above, against those of the frame before, and by how much the latter are off
    /// those of the line above.
    FieldShifts above_, before_, changes_;
    std::vector<ShiftMean> from_above_, changed_, left_, right_;
    double apart_squares_ = 0, apart_stated_ = 0;
    float scale_ = 2;  ///< what the rows' stated variances are multiplied by
    std::vector<float> spare_;
};

/// Places less certain than this are not counted: 0.7 samples.
inline constexpr float placed_variance = 0.5F;

}  // namespace guardband::measure
