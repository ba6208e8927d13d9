#pragma once

#include <functional>
#include <span>

namespace guardband::measure {

/// Which part of a tone's speed a meter shows.
enum class FlutterBand { Weighted, Wow, Flutter };

/// One point of the published weighting curve.
struct WeightingPoint {
    double hz, db;
};

/// The weighting curve of IEC 60386 (DIN 45507, CCIR 409 and AES6 have the same one): 0 dB at 4 Hz. The values are from
/// memory, to be checked at table 1 of IEC 60386; so are the tolerances of the test that holds the filter against them.
std::span<const WeightingPoint> weighting_points();

/// How much a meter's network passes of a flutter at `hz`, as a ratio. Weighted: through the published points, smooth
/// between them over the logarithm of the frequency; below the first falling on by 18 dB an octave, above the last by
/// 6, and out of the meter's band above 280 Hz. Wow: 0.1 to 6 Hz, flutter: 6 to 200 Hz, both between half-power points
/// of Butterworth filters of the fourth order.
double flutter_response(FlutterBand band, double hz);

}  // namespace guardband::measure
