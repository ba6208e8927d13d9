#pragma once

#include <span>
#include <vector>

namespace guardband::testsignal {

/// A symmetric low-pass for rows of a picture: windowed sinc, Kaiser window of 50 dB, unity at zero frequency. The
/// response falls to half at the cut-off and is below -45 dB from 1.2 times the cut-off on. Rows are continued by their
/// end samples.
class LowPass {
public:
    /// @param cutoff  cycles per sample, above 0; from 0.5 on the filter passes everything and does nothing
    explicit LowPass(double cutoff);

    bool passes_all() const { return taps_.size() == 1; }
    /// Filters one row in place.
    void apply(std::span<float> row);
    /// Half of the symmetric impulse response, centre first.
    const std::vector<float>& taps() const { return taps_; }

private:
    std::vector<float> taps_;
    std::vector<float> padded_;
};

}  // namespace guardband::testsignal
