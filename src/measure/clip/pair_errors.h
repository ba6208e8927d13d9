#pragma once

#include <cstddef>

#include "measure/clip/displacement_store.h"
#include "measure/clip/mean_square.h"

namespace guardband::measure {

/// The first line of a field that counts for figures of displacement.
inline constexpr std::size_t first_line = 2;
/// So many lines at least for any such figure.
inline constexpr std::size_t fewest_lines = 200;
/// So many lines that follow each other lie off alike; those at the top of a field are lost when they do.
inline constexpr std::size_t group_lines = 8;
/// What is called a peak: the 99.9th percentile of the magnitude.
inline constexpr double peak_share = 0.999;

/// What the errors of the measurement do, by lines whose two edges are seen: half of what these differ by is as large
/// as the errors of their mean.
struct PairErrors {
    double scale = 1;    ///< how much larger variances are than stated
    double tail_px = 0;  ///< 99.9th percentile of the errors' magnitude
};

/// @param end  first line of the fields that no longer counts
PairErrors errors_of_pairs(const DisplacementStore& store, std::size_t end, double mean_px);

/// By how much the mean square of lines that both edges place may be off by chance, squared samples: the picture that
/// shifts an edge goes on for many lines and frames, above all where the scene rests or moves up or down, so that a
/// clip may hold a few dozen such errors, and those of the left and the right edge then have something in common.
///
/// Method: what the two edges of a line differ by is error alone. With that of lines far away in the same field, left
/// and right have nothing in common but by chance; what their products come to, RMS over many distances, is the answer.
/// @param squares  which the mean square is from
double error_of_products(const DisplacementStore& store, std::size_t end, double mean_px, const TwiceOrOnce& squares);

}  // namespace guardband::measure
