#pragma once

#include <vector>

#include "testsignal/composite/line_painter.h"
#include "testsignal/composite/timeline.h"

namespace guardband::testsignal {

/// Puts colour on its subcarrier and adds it to the luma, with the distortions that depend on the luma's level.
class Modulator {
public:
    Modulator(const CompositeRecipe& recipe, const ScanPattern& pattern);

    /// @param luma_and_composite  luma in `line`; composite when done, mV
    void modulate(const LineRun& run, const Timeline& timeline, PaintedLine& line) const;

private:
    void bend(std::span<float> luma) const;
    void add_axes(const LineRun& run, const Timeline& timeline, PaintedLine& line) const;
    void add_frequency(const LineRun& run, PaintedLine& line) const;

    CompositeRecipe recipe_;
    CompositeSystem system_;
    ScanPattern pattern_;
    double bend_;
};

}  // namespace guardband::testsignal
