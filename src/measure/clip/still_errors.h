#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <vector>

#include "measure/clip/line_chain.h"

namespace guardband::measure {

/// Takes out of the places of lines what a scene at rest makes them err by.
///
/// Why: what the picture does under an edge moves that edge by 15 ns, the same in every frame while the scene rests,
/// and nearly the same in lines below each other. Jitter of the lines averages out over frames; this doesn't.
///
/// Method: the mean place of each line over the frames at rest, as it goes on down the frame, both fields together:
/// what it is off a course smooth over some fifty lines, itself smoothed over three, is error or a displacement that
/// returns in every frame. The latter shows alike at the left and at the right edge, the former doesn't: the mean
/// product of both against the square tells how much of it is taken out.
///
/// Only `place_px` changes, not what either edge says. Scatter that is left, at 40 dB: 5 to 8 ns after a second where
/// lines lie 50 ns off at random, 10 where they do by 200. What returns in every frame, is finer than thirty lines of
/// a field and below 10 ns is taken for error in part.
class StillErrors {
public:
    /// Both fields of a frame, after each other. @param rests  of each line, whether the scene is as it was
    void see(std::size_t parity, const PlacedLines& lines, std::span<const char> rests);
    /// Of the field last seen.
    void take_out(std::size_t parity, PlacedLines& lines) const;

private:
    struct Means {
        float place = 0, left = 0, right = 0;
        int frames = 0;
    };
    using Course = std::vector<float>;

    void find_errors();
    void find_errors(std::size_t first, std::size_t end);
    /// Means over known lines, `half` of all to either side, twice.
    void smooth(int half, Course& values);
    void sums_over(std::span<const float> values, int half, Course& out);
    /// What of a course is finer than what goes on down the frame, and coarser than single lines.
    void band(Course& values);

    std::vector<Means> means_;  ///< of the lines of a frame
    Course errors_, known_, left_, right_, place_, slow_, numerator_, denominator_, common_, all_, tested_;
    std::vector<double> running_;
};

}  // namespace guardband::measure
