#include "calc/filmed_screen.h"

#include <algorithm>
#include <cmath>

#include "calc/beat.h"
#include "calc/screen_light.h"
#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::Figure;
using quantity::Rational;

/// Order of the inputs as they are varied.
enum Index : std::uint8_t { Screen, Camera, Exposure, Readout, Decay };

std::vector<Input> inputs_of(const Filming& filming) {
    return {{filming.screen.value(), filming.screen_off_hz},
            {filming.camera.value(), filming.camera_off_hz},
            filming.exposure_s,
            filming.readout_s,
            filming.decay_s};
}

double depth_of(bool is_lamp, double rate_hz, double decay_s, double exposure_s) {
    return is_lamp ? exposure_gain(rate_hz, exposure_s) : first_harmonic_depth({rate_hz, decay_s}, exposure_s);
}

double swing_of(bool is_lamp, double rate_hz, double decay_s, double exposure_s) {
    return is_lamp ? 2 * exposure_gain(rate_hz, exposure_s) : peak_to_peak({rate_hz, decay_s}, exposure_s);
}

Figure worked(const std::vector<Input>& inputs, const char* unit,
              const std::function<double(std::span<const double>)>& formula) {
    return figure_of(spread_of(formula, inputs), unit);
}

/// Multiples of the camera's rate that lie nearest, so that a rate moved by its error keeps its side.
double nearest_multiple(const Filming& filming, const Rational& above) {
    return std::round((filming.screen.value() - above.value()) / filming.camera.value());
}

/// Of a beat: what it may be off at most for its period, 1/beat, to be nearly straight over it.
constexpr double straight_share = 0.5;

void add_beat(FilmedScreen& answer, const Filming& filming, const std::vector<Input>& inputs) {
    answer.beat = beat(filming.screen, filming.camera);
    const double k = nearest_multiple(filming, answer.beat);
    const auto off = [k](std::span<const double> x) { return x[Screen] - k * x[Camera]; };
    const Spread spread = spread_of(off, inputs);
    answer.flicker_hz = Figure::measured(std::abs(answer.beat.value()), spread.standard_uncertainty, "Hz");
    answer.has_direction = answer.beat + answer.beat != filming.camera;
    if (answer.beat.numerator() == 0)
        answer.period_s = Figure::unknown("it stands still");
    else if (spread.worst > straight_share * std::abs(spread.value))
        answer.period_s = Figure::unknown("the rates are too uncertain to tell a slow beat from none");
    else
        answer.period_s = worked(inputs, "s", [&](std::span<const double> x) { return 1 / std::abs(off(x)); });
    answer.bands = worked(inputs, "", [&](std::span<const double> x) {
        return bands_per_height(x[Screen], x[Readout], filming.scan_share);
    });
    if (*answer.bands.number() == 0) {
        answer.drift_per_s = Figure::unknown("no bands: the whole picture flickers at once");
        return;
    }
    answer.drift_per_s = worked(inputs, "1/s", [&](std::span<const double> x) {
        return -off(x) / bands_per_height(x[Screen], x[Readout], filming.scan_share);
    });
}

void add_nulls(FilmedScreen& answer, const Filming& filming) {
    const int most = static_cast<int>(filming.screen.numerator() * filming.camera.denominator() /
                                      (filming.screen.denominator() * filming.camera.numerator()));
    const double rate = filming.screen.value(), decay = filming.decay_s.value;
    for (int refreshes = 1; refreshes <= most; ++refreshes) {
        NullExposure null{
            refreshes,
            worked({{rate, filming.screen_off_hz}}, "s", [=](std::span<const double> x) { return refreshes / x[0]; }),
            0, 0};
        for (const double error : {-filming.exposure_error, filming.exposure_error}) {
            const double exposure = refreshes / rate * (1 + error);
            null.depth = std::max(null.depth, depth_of(filming.is_lamp, rate, decay, exposure));
            null.peak_to_peak = std::max(null.peak_to_peak, swing_of(filming.is_lamp, rate, decay, exposure));
        }
        answer.nulls.push_back(std::move(null));
    }
}

/// A rate this near to a multiple of a standard's field rate is that standard's, as 60 Hz is 525/60's.
constexpr double same_rate_share = 0.005;

const table::Scanning* standard_of(const Rational& screen, const table::Table& table) {
    for (const char* id : {"625/50", "525/60"}) {
        const table::Scanning* scanning = table.find_scanning(id);
        if (scanning == nullptr) continue;
        const double fields = screen.value() / scanning->field_rate().value();
        if (fields > 0.5 && std::abs(fields / std::round(fields) - 1) < same_rate_share) return scanning;
    }
    return table.find_scanning("625/50");
}

}  // namespace

void set_scan_share(Filming& filming, const table::Table& table) {
    const table::Scanning* scanning = standard_of(filming.screen, table);
    const table::Fact* blanking = scanning == nullptr ? nullptr : scanning->facts.known("field_blanking");
    if (blanking == nullptr) throw quantity::DomainError("the table gives no field blanking of 625/50");
    filming.blanking_fact = blanking;
    filming.scan_share = 1 - blanking->in("lines") / (scanning->lines().value() / 2);
    filming.assumed.push_back("the screen fills the picture and is scanned as in " + scanning->id);
}

FilmedScreen filmed_screen(const Filming& filming) {
    if (filming.exposure_error < 0 || filming.exposure_error >= 1)
        throw quantity::DomainError("an error of exposure lies between 0 and 1");
    const std::vector<Input> inputs = inputs_of(filming);
    const Figure none = Figure::unknown("");
    FilmedScreen answer{{}, none, none, none, none, none, none, none, true, {}};
    add_beat(answer, filming, inputs);
    answer.share_left =
        worked(inputs, "share", [](std::span<const double> x) { return exposure_gain(x[Screen], x[Exposure]); });
    answer.depth = worked(inputs, "share", [&](std::span<const double> x) {
        return depth_of(filming.is_lamp, x[Screen], std::max(0.0, x[Decay]), x[Exposure]);
    });
    answer.peak_to_peak = worked(inputs, "share", [&](std::span<const double> x) {
        return swing_of(filming.is_lamp, x[Screen], std::max(0.0, x[Decay]), x[Exposure]);
    });
    add_nulls(answer, filming);
    return answer;
}

}  // namespace guardband::calc
