#pragma once

#include <cstddef>
#include <vector>

namespace guardband::measure {

/// A number with its standard uncertainty, samples.
struct Estimated {
    double value = 0, error = 0;
};

/// Parts that a clip is cut into, so that the scatter of what they give tells how sure their mean is.
inline constexpr std::size_t most_stretches = 16;

/// The mean square that a root is of, and the root of a mean square. Uncertainty of the root: half the relative one;
/// near 0, the root of that of the square.
Estimated square_of(const Estimated& root);
Estimated root_of(const Estimated& square);

/// Mean of squares from which noise has been subtracted.
struct MeanSquare {
    double squares = 0, subtracted = 0, count = 0;

    void add(double square, double noise) { squares += square - noise, subtracted += noise, ++count; }
    void add_weighted(double square, double weight) { squares += weight * square, count += weight; }
    void scale(double factor) { squares *= factor, subtracted *= factor, count *= factor; }
    void join(const MeanSquare& other) {
        squares += other.squares, subtracted += other.subtracted, count += other.count;
    }
    double mean() const { return count > 0 ? squares / count : 0; }
};

/// Root of a mean square that may have come out below 0, from the stretches of a clip. Its uncertainty: from their
/// scatter and a third of what was subtracted.
Estimated root_of(const std::vector<MeanSquare>& stretches);

/// Mean square of values that are known twice, by evidence that has no error in common, and of others that are known
/// once. The product of both takes the place of the square, so that errors add nothing; elsewhere the stated variance
/// is subtracted. What noise adds to the latter is known badly: in a group of which a third or more are known twice,
/// those that are not far above it are taken to be like those of the former that are no larger.
///
/// Products scatter with the errors of their factors. Within a group the less sure ones count less, by what scatter is
/// to be expected beside that of the values themselves; each group as a whole counts by the number of its values.
class TwiceOrOnce {
public:
    /// @param group  of values that are alike, such as those of neighbouring lines
    /// @param variance  of `one` and of `other`
    void twice(std::size_t stretch, std::size_t group, double one, double other, double variance);
    void once(std::size_t stretch, std::size_t group, double value, double variance);
    Estimated root_mean_square();
    /// What a value known twice counts, 1 in the mean; once the mean square is known.
    double weight(std::size_t group, double variance) const;

private:
    struct Stretch {
        MeanSquare small, large;
        double known = 0, alike = 0;  ///< small ones, known twice and once
    };
    struct Twice {
        std::size_t stretch;
        float one, other, variance;
    };
    struct Once {
        std::size_t stretch;
        float value, variance;
    };
    struct Group {
        std::vector<Twice> twice;
        std::vector<Once> once;
        double small_below = 0;  ///< size below which values known once are taken to be like those known twice
        double weights = 1;      ///< mean precision of those known twice
    };

    Group& group(std::size_t number);
    static double small_below(const Group& group);
    static bool is_small(const Group& group, const Twice& two);
    double precision(double variance) const;
    void weigh(Group& group) const;
    void join(const Group& group, std::vector<MeanSquare>& all) const;

    std::vector<Group> groups_;
    double square_ = 0;  ///< of the values, as far as it is known
};

}  // namespace guardband::measure
