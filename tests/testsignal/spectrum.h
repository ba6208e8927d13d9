#pragma once

#include <opencv2/core.hpp>

#include "testsignal/picture.h"

namespace guardband::testsignal {

/// A view of a plane for OpenCV, which is what these tests measure with.
inline cv::Mat1f as_image(const FloatPlane& plane) {
    return cv::Mat1f(plane.height, plane.width, const_cast<float*>(plane.samples.data())).clone();
}

/// Spectra of the rows of an image, Hann-windowed: complex, one row each.
cv::Mat2f row_spectra(const cv::Mat1f& image);

/// Mean power over all rows in each bin of `row_spectra`, up to half the sampling rate.
std::vector<double> row_power(const cv::Mat1f& image);

/// How far `after` lies to the right of `before`, samples: slope of the cross-spectrum's phase over frequency, summed
/// over rows, weighted by its magnitude, between two frequencies in cycles per sample. Shifts must be below half a
/// period of the highest one.
double shift_right(const cv::Mat1f& before, const cv::Mat1f& after, double lowest = 0.01, double highest = 0.2);

}  // namespace guardband::testsignal
