#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace guardband::measure {

/// Finds pictures that roll through the frame, as without vertical sync: what leaves at one end comes in at the other,
/// at once or after the field blanking. A camera that tilts brings in what was not there before.
///
/// Method: slopes down the field, of a coarse picture (sums of samples by row). When a field can't be laid over the one
/// before, its correlation with it is taken at every shift round and round, with and without field blanking between
/// the picture's end and its start; when it can, the movements are added up until a sixth of the height has come in
/// anew, twice on end. The picture rolls if all of it fits, what was in the frame and what came round by itself.
///
/// What came round must fit better there than anywhere else in the picture: lines of titles that roll up fit one
/// another.
///
/// A slow roll is seen late; its beginning and its end are where the picture took up and left its speed, within three
/// fields.
///
/// Can't tell: slow rolls from a camera that sweeps past slanting lines, which go up or down and come in anew as they
/// leave, where there is little else: in all columns of 32 samples they fit as well as what rolls does (correlation
/// 0.69 to 0.73 and 0.70 to 0.97). Slow rolls of less than a third of the height; pictures without detail in a good
/// part of the height, or with detail that comes again down the picture.
class RollFinder {
public:
    struct Roll {
        double rows = 0;  ///< downwards
        int fields = 1;   ///< in which it rolled
        int ago = 0;      ///< fields that have followed on the last of them
    };

    /// @param round_rows  rows of a field with its blanking; 0 if that isn't known
    explicit RollFinder(double round_rows) : round_rows_(round_rows) {}

    /// The next field. @param now, before  slopes of this field and of the one before, row by row, `width` to a row
    /// @param moved  by which this one lies below the one before, rows, as plain movement has it; nothing if that has
    /// no
    ///               answer
    /// @returns a roll that goes on with this field, less what of it was told before
    std::optional<Roll> see(std::span<const float> now, std::span<const float> before, std::size_t width,
                            std::optional<double> moved);

private:
    struct Fit {
        double all = 0, stayed = 0, round = 0;  ///< correlation of all rows, of those in sight, of those come round
        int rows_round = 0;
    };

    using Coarse = std::vector<float>;

    Fit fit(const Coarse& before, int shift, int round, int step) const;
    bool fits_there_alone(const Coarse& before, int shift, int round) const;
    std::optional<Roll> judge_slow();
    std::optional<int> rolled(const Coarse& before, int from, int to) const;
    std::optional<int> moved_far() const;
    std::optional<Roll> go_on(double moved);
    std::optional<Roll> ended(int fields) const;
    std::optional<Roll> cut_short(bool springs_back) const;
    void add_beginning(Roll& roll) const;
    double shift(int ago) const { return shifts_[static_cast<std::size_t>((seen_shifts_ - 1 - ago) % history)]; }
    int known_shifts() const { return static_cast<int>(std::min<std::int64_t>(seen_shifts_, history)); }
    static void take(std::span<const float> slopes, std::size_t width, Coarse& out);
    void keep();
    bool has_detail() const;
    int rows() const;

    double round_rows_;
    Coarse now_, last_, before_;
    double moved_ = 0;  ///< rows since `before_` was kept
    int kept_for_ = 0;  ///< fields
    Roll seen_;         ///< slowly; it must go on
    bool told_ = false;
    double speed_ = 0;  ///< of the roll that was told, rows a field
    static constexpr std::int64_t history = 128;
    std::array<double, history> shifts_{};  ///< how far each field moved, the last of them
    std::int64_t seen_shifts_ = 0;
};

}  // namespace guardband::measure
