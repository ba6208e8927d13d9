#include <fmt/format.h>

#include <cmath>

#include "calc/filmed_screen.h"
#include "calc/spread_text.h"

namespace guardband::calc {
namespace {

constexpr const char* fourier = "Fourier series of flashes and exposure";

std::string rate_text(const quantity::Rational& rate, double off_hz) {
    const std::string exact = rate.denominator() == 1 || off_hz > 0 ? "" : quantity::to_string(rate) + " = ";
    return exact + quantity_text(Input{rate.value(), off_hz}, "Hz");
}

Given screen_of(const Filming& filming) {
    return {"f", "refresh of the screen", rate_text(filming.screen, filming.screen_off_hz), filming.screen_fact,
            filming.screen_fact == nullptr ? "given" : ""};
}

Given time_of(const char* symbol, const char* meaning, const Input& input, bool is_given) {
    return {symbol, meaning, quantity_text(Input{1e3 * input.value, 1e3 * input.half_width}, "ms"), nullptr,
            is_given ? "given" : "assumed"};
}

Step beat_step(const Filming& filming, const FilmedScreen& answer) {
    const double k = std::round((filming.screen.value() - answer.beat.value()) / filming.camera.value());
    return {"beat of the screen against the camera: to the nearest multiple",
            "b = f − k c",
            fmt::format("{} − {} × {}", to_string(filming.screen), plain_text(k), to_string(filming.camera)),
            (answer.beat.denominator() == 1 ? "" : to_string(answer.beat) + " = ") +
                quantity_text(answer.beat.value(), answer.flicker_hz.uncertainty().value_or(0), "Hz"),
            {screen_of(filming),
             {"c", "pictures of the camera", rate_text(filming.camera, filming.camera_off_hz), nullptr, "given"}},
            "sampling"};
}

Step depth_step(const Filming& filming, const FilmedScreen& answer) {
    const std::string x =
        fmt::format("π × {} × {}", number_text(filming.screen.value()), plain_text(filming.exposure_s.value));
    const std::string of_exposure = fmt::format("|sin({}) / ({})|", x, x);
    Step step{"depth of the first harmonic",
              "m = |sin(πfT) / (πfT)|, times the lamp's own",
              of_exposure,
              number_text(*answer.depth.number()),
              {screen_of(filming), time_of("T", "exposure", filming.exposure_s, filming.exposure_is_given)},
              "mean over the exposure"};
    if (filming.is_lamp) return step;
    step.formula = "m = 2 |sin(πfT) / (πfT)| / √(1 + (2πfτ)²)";
    step.numbers = fmt::format("2 {} / √(1 + (2π × {} × {})²)", of_exposure, number_text(filming.screen.value()),
                               plain_text(filming.decay_s.value));
    step.givens.push_back(time_of("τ", "decay of the phosphor", filming.decay_s, filming.decay_is_given));
    step.source = fourier;
    return step;
}

Step swing_step(const Filming& filming, const FilmedScreen& answer) {
    const double refreshes = filming.exposure_s.value * filming.screen.value();
    const double part = refreshes - std::floor(refreshes);
    const std::string n = number_text(refreshes), rho = number_text(part), rest = number_text(1 - part),
                      decay = number_text(filming.decay_s.value * filming.screen.value());
    Step step{
        "brightest less darkest exposure, over the mean",
        "S = (1 − e^(−ρ/fτ)) (1 − e^(−(1−ρ)/fτ)) / (fT (1 − e^(−1/fτ)))",
        fmt::format("(1 − e^(−{}/{})) (1 − e^(−{}/{})) / ({} (1 − e^(−1/{})))", rho, decay, rest, decay, n, decay),
        number_text(*answer.peak_to_peak.number()),
        {{"ρ", "part of fT beyond whole refreshes", rho, nullptr, "worked out"}},
        "exposures that begin, and that end, at a flash"};
    if (filming.decay_s.value > 0) return step;
    step.formula = "S = 1 / (fT), one flash more or less; 0 for a whole fT";
    step.numbers = "1 / " + n;
    step.source = "counting flashes";
    return step;
}

Step bands_step(const Filming& filming, const FilmedScreen& answer) {
    Step step{"bands down the picture",
              "B = f R − a",
              fmt::format("{} × {} − {}", number_text(filming.screen.value()), plain_text(filming.readout_s.value),
                          plain_text(filming.scan_share)),
              number_text(*answer.bands.number(), answer.bands.uncertainty().value_or(0)),
              {time_of("R", "read-out, first row to last", filming.readout_s, filming.readout_is_given)},
              "phase of row against phase of row"};
    if (filming.blanking_fact != nullptr)
        step.givens.push_back(
            {"a", "share of a refresh without blanking", plain_text(filming.scan_share), filming.blanking_fact});
    return step;
}

}  // namespace

Working filmed_working(const Filming& filming, const FilmedScreen& answer) {
    Working working{beat_step(filming, answer), depth_step(filming, answer)};
    if (!filming.is_lamp) working.push_back(swing_step(filming, answer));
    working.push_back(bands_step(filming, answer));
    if (answer.drift_per_s.is_known())
        working.push_back(
            {"drift of the bands, above 0 downwards",
             "d = −b / B",
             fmt::format("−({}) / ({})", number_text(answer.beat.value()), number_text(*answer.bands.number())),
             number_text(*answer.drift_per_s.number(), answer.drift_per_s.uncertainty().value_or(0)) +
                 " picture heights a second",
             {},
             "where the phase stays the same"});
    if (!answer.nulls.empty())
        working.push_back({"exposure that nulls the flicker",
                           "T = n / f",
                           fmt::format("1 / {}", number_text(filming.screen.value())),
                           quantity_text(1e3 * *answer.nulls[0].exposure_s.number(),
                                         1e3 * answer.nulls[0].exposure_s.uncertainty().value_or(0), "ms"),
                           {},
                           "whole refreshes in every exposure"});
    return working;
}

}  // namespace guardband::calc
