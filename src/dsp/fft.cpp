#include "dsp/fft.h"

#include <kiss_fft.h>
#include <kiss_fftr.h>

#include <climits>
#include <cmath>
#include <numbers>
#include <string>

#include "quantity/errors.h"

namespace guardband::dsp {
namespace {

using quantity::DomainError;

static_assert(sizeof(kiss_fft_cpx) == sizeof(std::complex<float>), "KissFFT must have been built for float");

const kiss_fft_cpx* as_kiss(std::span<const std::complex<float>> values) {
    return reinterpret_cast<const kiss_fft_cpx*>(values.data());  // both are two floats, real part first
}

kiss_fft_cpx* as_kiss(std::span<std::complex<float>> values) { return reinterpret_cast<kiss_fft_cpx*>(values.data()); }

struct Free {
    void operator()(void* plan) const { kiss_fft_free(plan); }
};
using ComplexPlan = std::unique_ptr<kiss_fft_state, Free>;
using RealPlan = std::unique_ptr<kiss_fftr_state, Free>;

int checked_length(std::size_t length) {
    if (length == 0 || length > static_cast<std::size_t>(INT_MAX) / 4) {
        throw DomainError("the length of a Fourier transform must lie between 1 and 2^29, not " +
                          std::to_string(length));
    }
    return static_cast<int>(length);
}

template <typename Pointer>
Pointer allocated(Pointer plan) {
    if (!plan) throw std::bad_alloc();
    return plan;
}

void require_sizes(bool right) {
    if (!right) throw DomainError("a Fourier transform was given a series of another length than it was made for");
}

}  // namespace

std::size_t fast_length(std::size_t length) {
    const int half = kiss_fft_next_fast_size(checked_length((length + 1) / 2 + (length == 0 ? 1 : 0)));
    return 2 * static_cast<std::size_t>(half);
}

struct ComplexFft::Plan {
    ComplexPlan forward, inverse;
};

ComplexFft::ComplexFft(std::size_t length) : length_(length), plan_(std::make_unique<Plan>()) {
    const int n = checked_length(length);
    plan_->forward = allocated(ComplexPlan(kiss_fft_alloc(n, 0, nullptr, nullptr)));
    plan_->inverse = allocated(ComplexPlan(kiss_fft_alloc(n, 1, nullptr, nullptr)));
}

ComplexFft::~ComplexFft() = default;
ComplexFft::ComplexFft(ComplexFft&&) noexcept = default;
ComplexFft& ComplexFft::operator=(ComplexFft&&) noexcept = default;

void ComplexFft::forward(std::span<const std::complex<float>> input, std::span<std::complex<float>> output) const {
    require_sizes(input.size() == length_ && output.size() == length_);
    kiss_fft(plan_->forward.get(), as_kiss(input), as_kiss(output));
}

void ComplexFft::inverse(std::span<const std::complex<float>> input, std::span<std::complex<float>> output) const {
    require_sizes(input.size() == length_ && output.size() == length_);
    kiss_fft(plan_->inverse.get(), as_kiss(input), as_kiss(output));
}

struct RealFft::Plan {
    RealPlan forward, inverse;
};

RealFft::RealFft(std::size_t length) : length_(length), plan_(std::make_unique<Plan>()) {
    const int n = checked_length(length);
    if (n % 2 != 0) throw DomainError("a real Fourier transform needs an even length, not " + std::to_string(length));
    plan_->forward = allocated(RealPlan(kiss_fftr_alloc(n, 0, nullptr, nullptr)));
    plan_->inverse = allocated(RealPlan(kiss_fftr_alloc(n, 1, nullptr, nullptr)));
}

RealFft::~RealFft() = default;
RealFft::RealFft(RealFft&&) noexcept = default;
RealFft& RealFft::operator=(RealFft&&) noexcept = default;

void RealFft::forward(std::span<const float> input, std::span<std::complex<float>> output) const {
    require_sizes(input.size() == length_ && output.size() == bins());
    kiss_fftr(plan_->forward.get(), input.data(), as_kiss(output));
}

void RealFft::inverse(std::span<const std::complex<float>> input, std::span<float> output) const {
    require_sizes(input.size() == bins() && output.size() == length_);
    kiss_fftri(plan_->inverse.get(), as_kiss(input), output.data());
}

std::complex<double> dft_at(std::span<const float> series, double cycles_per_sample) {
    // The phasor is turned by multiplication and set anew now and then, before its rounding adds up.
    constexpr std::size_t renewal = 64;
    const double step = -2 * std::numbers::pi * std::remainder(cycles_per_sample, 1.0);
    const std::complex<double> turn = std::polar(1.0, step);
    std::complex<double> sum = 0, phasor = 1;
    for (std::size_t n = 0; n < series.size(); ++n) {
        if (n % renewal == 0) phasor = std::polar(1.0, step * static_cast<double>(n));
        const double x = series[n];
        sum += std::complex<double>(x * phasor.real(), x * phasor.imag());
        phasor = {phasor.real() * turn.real() - phasor.imag() * turn.imag(),
                  phasor.real() * turn.imag() + phasor.imag() * turn.real()};
    }
    return sum;
}

}  // namespace guardband::dsp
