#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "measure/clip/field_follower.h"
#include "measure/clip/profile_shift.h"
#include "measure/features.h"

namespace guardband::measure {

/// When the two fields of a frame may have been taken.
enum class FieldMoments { TopFirst, BottomFirst, OneMoment };

/// How far the bottom field would lie beside the top field if the fields had been taken so, and how well all of the
/// picture agrees on that.
struct OffsetReading {
    double offset_px = 0;    ///< mean of its size over the picture's height
    double fitting = 0;      ///< share of the pieces that lie where that and their motion have them
    double misfit = 0;       ///< geometric mean of the squares by which they don't, squared samples
    double pieces = 0;       ///< that were seen
    double order_error = 0;  ///< what the offset adds to `WeaveSums::ratio`, by size
};

/// How far the two fields of a frame lie beside each other for a reason that is not motion: heads whose signals come
/// a little early and late by turns, or a time base that swings once per frame. Such an offset d adds to combing as
/// motion does: where it is larger than the motion v per frame, `WeaveSums::ratio` becomes ±1 + 2 d ÷ v.
///
/// Method: the movement of each piece of the picture from frame to frame, v, and how far its bottom field lies to the
/// right of its top field, a, both from column sums. a = d + k v with k = ½ where the top field came first, −½ where
/// the bottom field did, 0 where both show one moment, and d, which may differ down the picture, is the same for all
/// that moves beside each other. The k for which it is so is the right one. Every second frame is looked at, fewer in
/// long clips. A frame in which all stands still after one in which all moved may repeat the one before it: then its
/// fields lie apart by a motion that it doesn't show, and it is left out. Frames whose movement does not go on in the
/// next are marked: where moments were left out or stand longer, as in a conversion of standards, it says nothing of
/// that between their fields.
///
/// A picture that moves up or down says nothing: a slanting outline then lies aside by its slope s times the movement u
/// from frame to frame, frame lines, but from field to field by s (k u − 1), because the bottom field's lines lie one
/// lower. At 1 line per frame that is the other order's k, at 2 that of one moment.
///
/// Needs things that move at different speeds: captured blanking or a still part of the scene beside one that moves,
/// or motion that changes. Can't tell motion that is the same everywhere and all the time from an offset.
class FieldOffset {
public:
    /// @param usable  false: the frame is damaged or has nothing to be compared with
    void see(const FrameFeatures& features, bool usable);

    /// Nothing while too few pieces were seen or moved. By `FieldMoments`.
    /// @param of_steady  only of frames whose movement goes on in the next
    std::optional<std::array<OffsetReading, 3>> readings(bool of_steady = false) const;

    /// Which of them the pieces speak for plainly.
    static std::optional<FieldMoments> plain(const std::array<OffsetReading, 3>& readings);

    /// Whether the picture moves up or down on the whole, so that there are no readings.
    bool tilts() const;

private:
    /// A piece of the picture, as `ProfileMatcher` wants it, by parity.
    struct Piece {
        std::array<std::vector<float>, 2> now, before;
        std::optional<std::size_t> point;  ///< of the frame before
    };
    struct Point {
        float moved_px, apart_px;
        std::size_t band;
        bool steady;  ///< most of its frame moves on in the next as it did
    };

    static constexpr int most_standstills = 3;

    void prepare(const FrameFeatures& features);
    void compare(Piece& piece, std::size_t band);
    void leave_out_repeat(std::size_t first);
    void mark_unsteady();
    void thin();
    OffsetReading reading(double lag, std::span<const Point> points) const;

    std::vector<Piece> pieces_;
    FieldFollower follower_;                       ///< of the top field
    double tilted_rows_ = 0, tilted_squares_ = 0;  ///< of a field, from frame to frame, added up; downwards
    int tilt_frames_ = 0;                          ///< of which they are
    std::size_t bands_ = 0, sections_ = 0;
    std::int64_t seen_ = 0, every_ = 2;
    std::vector<Point> points_;
    int standstills_ = most_standstills;  ///< frames on end that stood still after one that moved
    std::vector<float> profile_;
    ProfileMatcher matcher_{32};
};

}  // namespace guardband::measure
