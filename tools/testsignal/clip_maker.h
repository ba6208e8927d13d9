#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <vector>

#include "testsignal/field_schedule.h"
#include "testsignal/filmed_light.h"
#include "testsignal/picture.h"
#include "testsignal/player_faults.h"
#include "testsignal/recipe.h"
#include "testsignal/scene.h"
#include "testsignal/test_picture.h"
#include "testsignal/time_base.h"

namespace guardband::testsignal {

using SamplePlane = PlaneOf<std::uint16_t>;

/// Luma samples that the clipper changed or that stand at its limits.
struct ClipTally {
    std::int64_t samples = 0;
    std::int64_t clipped_low = 0, clipped_high = 0;  ///< would have lain beyond the limit
    std::int64_t at_low = 0, at_high = 0;            ///< have the limit's code in the end, those clipped to it included

    ClipTally& operator+=(const ClipTally& other);
};

/// One frame of a clip: planes Y', C_B, C_R of samples in the low `bit_depth` bits; the fields of an interlaced frame
/// are woven.
struct ClipFrame {
    std::int64_t index = 0;         ///< in the clip
    std::int64_t source_index = 0;  ///< before missing frames were taken out
    double time_s = 0;              ///< time stamp, jitter and rounding included; a container may round it further
    std::array<SamplePlane, 3> planes;
    ClipTally tally;
};

/// What is known of a clip because it was made so. All field and frame numbers count from 0 within the clip, fields in
/// the order of time.
struct Truth {
    Recipe recipe;
    std::int64_t frame_count = 0;
    std::vector<std::int64_t> repeated_fields;  ///< by faults or pull-down
    std::vector<std::int64_t> repeated_frames;
    std::vector<MissingFrame> missing_frames;
    std::optional<double> black_code,
        white_code;   ///< 8-bit codes of true black and white; absent if the scene has none or the light varies
    ClipTally tally;  ///< of the frames that `next` has given
    std::optional<FlickerTruth> flicker;
    std::optional<TimeBaseTruth> time_base;
    std::vector<Dropout> dropouts;  ///< of the frames that `next` has given
};

/// Makes the frames of a clip from a recipe, in memory. The same recipe gives the same samples, whatever order they are
/// asked for in. Not for use by two threads at once; two makers of one recipe may run side by side.
class ClipMaker {
public:
    /// @throws quantity::InputError as `check(recipe)`
    explicit ClipMaker(Recipe recipe);

    const Recipe& recipe() const { return recipe_; }
    std::int64_t frame_count() const { return schedule_.frame_count(); }

    /// Makes any frame of the clip. `out` keeps its memory from one call to the next.
    /// @param index  0 to frame_count() - 1
    void make(std::int64_t index, ClipFrame& out);

    /// The next frame in order, counted into the truth. @returns false at the end
    bool next(ClipFrame& out);

    /// What is known so far: all of it after the last `next`.
    Truth truth() const;

    /// By how much each line of a field of the clip lies too far to the right, ns; from the field's top.
    /// @param clip_field  number in the order of time
    std::vector<double> displacements_ns(std::int64_t clip_field) const;

    /// The scene that is seen at a moment.
    Scene& scene_at(double time_s);

private:
    FieldSource source_of(std::int64_t clip_field) const;
    void make_field(std::int64_t source_field, Rows rows, ClipFrame& out);
    void render(const FieldSource& source, Rows rows);
    void write_luma(const Picture& picture, Rows rows, Random& noise, ClipFrame& out);
    void hold_lines(std::int64_t noise_field, Rows rows, ClipFrame& out);
    void write_chroma(FloatPlane& chroma, Rows rows, Random& noise, SamplePlane& out);
    bool shows_test_picture(double time_s) const;
    void turn_colours(Picture& picture) const;
    void pad(ClipFrame& out) const;
    double stamp_s(std::int64_t index) const;

    Recipe recipe_;
    FieldSchedule schedule_;
    std::map<std::size_t, std::unique_ptr<Scene>> scenes_;  ///< by number of cuts before
    std::optional<TestPicture> test_picture_;
    std::optional<FilmedLight> light_;
    TimeBase time_base_;
    PlayerFaults player_;
    Picture picture_, later_;
    bool drawn_ = false;  ///< the field at hand carries no noise
    FloatPlane reduced_;
    std::vector<float> noise_;
    std::int64_t next_ = 0;
    ClipTally tally_;
    std::vector<Dropout> dropouts_;
};

}  // namespace guardband::testsignal
