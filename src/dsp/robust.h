#pragma once

#include <span>
#include <vector>

namespace guardband::dsp {

/// The value below which `share` of the values lie, linear between neighbours (0 the least, 0.5 the median, 1 the
/// greatest). May reorder `values`; linear in their number. @param share  0 … 1  @throws DomainError if `values` is
/// empty or `share` is outside
double quantile_in_place(std::span<float> values, double share);
double quantile_in_place(std::span<double> values, double share);

/// The middle value, or the mean of the two middle ones. Copies. @throws DomainError if there is none
double median(std::span<const float> values);
double median(std::span<const double> values);

/// Standard deviation of a normal distribution with this median absolute deviation about the median: 1.4826 MAD. Stays
/// right with up to half of the values wild; its own scatter is 1.65 times that of the plain standard deviation.
/// @throws DomainError if there is none
double spread(std::span<const float> values);
double spread(std::span<const double> values);

/// Mean of what is left when `share` of the values has been cut off at either end. @param share  0 … < 0.5
/// @throws DomainError if `values` is empty or `share` is outside
double trimmed_mean(std::span<const double> values, double share);

/// Where the values lie closest together: the half of them that spans least, the half of those, and so on, down to the
/// mean of the last three or fewer. Doesn't move with values elsewhere, be they most of all. Half-sample mode of T.
/// Robertson and J. D. Cryer (1974), from memory. @throws DomainError if there is none
double half_sample_mode(std::span<const double> values);

}  // namespace guardband::dsp
