#pragma once

#include <array>
#include <vector>

namespace guardband::measure {

/// How a picture changes along its lines: the mean squared difference of two samples d apart is
/// 2 spread² (1 − exp(−(d / reach)^1.7)).
struct PictureCourse {
    double spread = 20;  ///< 8-bit codes
    double reach = 4;    ///< samples

    double squared_difference(double distance) const;
};

/// RMS, 8-bit codes.
struct EdgeNoise {
    double everywhere = 2;
    double on_rise = 0;  ///< beside that, where the edge rises

    double variance(double distance_px) const;  ///< so far from the edge
};

/// What the fit of one picture edge gives.
struct EdgeFit {
    float place = 0;     ///< where the edge is half way up, samples from the row's first one
    float variance = 0;  ///< of the place, squared samples, from noise and from what the picture may do beside the edge
    float height = 0;    ///< of the picture above blanking right at the edge, 8-bit codes
    float misfit = 0;    ///< mean square of what the fit leaves over before and on the edge, squared 8-bit codes
    float strain = 0;    ///< how little the window looks like an edge alone: see `EdgeFilter::strain`
};

/// Places the edge between blanking and a picture of any level to a small part of a sample.
///
/// Method: generalised least squares over 16 samples around a first guess. The row is blanking + height · S(x − p) +
/// noise + the picture's own course beside the edge, where S is a step with a Gaussian rise and the picture's course a
/// random process that is 0 at the edge and changes from there as a `PictureCourse` says; the level of blanking may err
/// by 1.5 codes. Linear in the height and in height · displacement, so one pair of filters per phase (64 of them) does
/// it; repeated until it rests.
///
/// Scatter: what the picture does beside the edge decides it, then noise; `variance` says how much, apart from a factor
/// that the pictures decide and `PictureEdges` finds. Bias: by the phase below 0.01 samples if the rise is right within
/// a fifth.
class EdgeFilter {
public:
    static constexpr int taps = 16, before = 7;

    /// @param rise_px  10 % to 90 %, samples
    EdgeFilter(double rise_px, const EdgeNoise& noise, const PictureCourse& course);

    /// One step of the fit. @param window  `taps` values in 8-bit codes above blanking, beginning `before` samples
    /// before `first`   @param guess  first ≤ guess < first + 1
    EdgeFit step(const float* window, int first, float guess) const;

    /// How much speaks for an outline of the picture within the edge's rise, which shifts the edge and which `variance`
    /// knows nothing of: the square of what such outlines leave in the window, in its deviations, of the one at which
    /// it is largest. About 2 where there is none. @param window, first  as for `step`, `place` within a sample of
    /// first
    float strain(const float* window, int first, float place) const;

    /// Takes out of a window what the picture beside the edge is off a flat one, for `step` then to be made.
    /// @param picture  what the window would show without blanking
    void level(const float* window, const float* picture, int first, float guess, float* out) const;

private:
    static constexpr int phases = 64, outlines = 3;
    struct Phase {
        std::array<float, taps> height{}, moved{};  ///< filters: the height, and height times displacement
        std::array<float, taps> step{}, slope{};    ///< the edge's shape and its derivative
        float moved_variance = 0;
        std::array<std::array<float, taps>, outlines> outline{};  ///< filters: its contrast, in deviations
    };

    static Phase make_phase(double fraction, double rise_px, const EdgeNoise& noise, const PictureCourse& course,
                            const std::array<double, taps>& apart);

    std::vector<Phase> phases_;
};

}  // namespace guardband::measure
