#pragma once

#include <array>
#include <cstddef>

namespace guardband::measure {

/// How well samples follow from the three on either side of them: sums of products, from which the best weights and
/// what they leave are found.
class Prediction {
public:
    static constexpr int reach = 3;
    static constexpr int piece = 64;  ///< samples taken together
    static constexpr std::size_t taps = 2 * reach + 1;

    struct Fit {
        double left = 0;                     ///< mean square of what does not follow, squared codes
        double rounding = 0;                 ///< what rounding of all the samples leaves, likewise
        std::array<double, taps> weights{};  ///< of what is left: 1 in the middle
    };

    /// Samples whose neighbours lie in other rows. Whole pieces of them. @param rows  those from three above to three
    /// below
    template <typename Sample>
    void add_across(const std::array<const Sample*, taps>& rows, int first, int count);
    /// Samples of one row, whose neighbours lie in it. @param first  at least three from its ends, like the last
    template <typename Sample>
    void add_along(const Sample* row, int first, int count);

    Prediction& operator+=(const Prediction& other);

    /// Of neighbours that follow from each other one is enough. All 0 but rounding if there is nothing to follow.
    Fit fit() const;

private:
    /// The middle one less the mean of the two beside it, then what is known: half the difference of these two, and of
    /// each further one what it is more than their mean. So all weights together are 0 and no level counts.
    static constexpr std::size_t terms = 6;
    std::array<std::array<double, terms>, terms> products_{};
    double samples_ = 0;
};

}  // namespace guardband::measure
