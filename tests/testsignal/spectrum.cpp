#include "spectrum.h"

#include <cmath>
#include <complex>
#include <numbers>

namespace guardband::testsignal {

cv::Mat2f row_spectra(const cv::Mat1f& image) {
    cv::Mat1f windowed = image.clone();
    for (int y = 0; y < image.rows; ++y) {
        const double mean = cv::mean(image.row(y))[0];
        for (int x = 0; x < image.cols; ++x) {
            const double hann = 0.5 - 0.5 * std::cos(2 * std::numbers::pi * (x + 0.5) / image.cols);
            windowed(y, x) = static_cast<float>((image(y, x) - mean) * hann);
        }
    }
    cv::Mat2f spectra;
    cv::dft(windowed, spectra, cv::DFT_ROWS | cv::DFT_COMPLEX_OUTPUT);
    return spectra;
}

std::vector<double> row_power(const cv::Mat1f& image) {
    const cv::Mat2f spectra = row_spectra(image);
    std::vector<double> power(static_cast<std::size_t>(image.cols / 2 + 1));
    for (int y = 0; y < image.rows; ++y)
        for (std::size_t k = 0; k < power.size(); ++k)
            power[k] += spectra(y, static_cast<int>(k)).ddot(spectra(y, static_cast<int>(k)));
    return power;
}

double shift_right(const cv::Mat1f& before, const cv::Mat1f& after, double lowest, double highest) {
    const cv::Mat2f a = row_spectra(before), b = row_spectra(after);
    double top = 0, bottom = 0;
    for (int k = static_cast<int>(lowest * a.cols) + 1; k <= highest * a.cols; ++k) {
        std::complex<double> cross = 0;
        for (int y = 0; y < a.rows; ++y)
            cross +=
                std::complex<double>(b(y, k)[0], b(y, k)[1]) * std::conj(std::complex<double>(a(y, k)[0], a(y, k)[1]));
        const double omega = 2 * std::numbers::pi * k / a.cols, weight = std::abs(cross);
        top += weight * omega * -std::arg(cross);
        bottom += weight * omega * omega;
    }
    return top / bottom;
}

}  // namespace guardband::testsignal
