#include "report/beat_report.h"

#include <fmt/format.h>

#include <cmath>

#include "calc/spread_text.h"
#include "report/figure_page.h"
#include "report/json.h"
#include "report/labelled_text.h"
#include "report/text_table.h"
#include "report/track_json.h"
#include "report/working_report.h"

namespace guardband::report {
namespace {

using calc::number_text;
using calc::plain_text;
using calc::quantity_text;
using quantity::Figure;

constexpr std::string_view indent = "  ";
constexpr std::size_t most_nulls_shown = 6;
constexpr double nothing_share = 5e-6;  // of a flicker: what is printed as none

std::string labelled(const std::string& label, const std::string& text) {
    constexpr std::size_t label_width = 22;
    return report::labelled(label, text, label_width);
}

/// Three digits where no uncertainty says how many.
std::string percent(double share, double uncertainty = 0) {
    if (share < nothing_share) return "none";
    return (uncertainty > 0 ? number_text(100 * share, 100 * uncertainty) : fmt::format("{:.3g}", 100 * share)) + " %";
}

std::string percent(const Figure& share) { return percent(*share.number(), share.uncertainty().value_or(0)); }

std::string rate_text(const quantity::Rational& rate, double off_hz) {
    return off_hz > 0 ? number_text(rate.value(), off_hz) : number_text(rate.value());
}

std::string heading(const BeatAnswer& answer) {
    const calc::Filming& f = answer.filming;
    const std::string screen = answer.screen_name.empty()
                                   ? "A screen of " + rate_text(f.screen, f.screen_off_hz) + " Hz"
                                   : "The screen \"" + answer.screen_name + "\"";
    return wrapped(screen + " before a camera of " + rate_text(f.camera, f.camera_off_hz) + " pictures a second",
                   page_width) +
           "\n\n";
}

std::string flicker_text(const calc::FilmedScreen& filmed) {
    if (filmed.beat.numerator() == 0 && filmed.flicker_hz.uncertainty().value_or(0) == 0)
        return labelled("flicker", "stands still: the screen's rate is a multiple of the camera's");
    std::string text = quantity_text(filmed.flicker_hz);
    if (filmed.beat.denominator() != 1)
        text += " (" + to_string(filmed.beat.numerator() < 0 ? -filmed.beat : filmed.beat) + ")";
    if (filmed.period_s.is_known()) text += ", once in " + quantity_text(filmed.period_s);
    return labelled("flicker", text);
}

/// How the bands move.
std::string drift_text(const calc::FilmedScreen& filmed) {
    if (!filmed.drift_per_s.is_known()) return filmed.drift_per_s.reason();
    const double drift = *filmed.drift_per_s.number();
    if (drift == 0) return "none, they stand still";
    const std::string speed =
        number_text(std::abs(drift), filmed.drift_per_s.uncertainty().value_or(0)) + " picture heights a second";
    if (!filmed.has_direction) return speed + ", without direction: half way between two multiples";
    return speed + (drift > 0 ? ", downwards" : ", upwards");
}

std::string bands_text(const calc::FilmedScreen& filmed) {
    const double bands = *filmed.bands.number();
    return bands == 0 ? "none" : number_text(std::abs(bands), filmed.bands.uncertainty().value_or(0));
}

std::string depth_text(const BeatAnswer& answer) {
    const calc::FilmedScreen& filmed = answer.filmed;
    if (answer.filming.is_lamp) return labelled("depth", percent(filmed.depth) + " of the lamp's own ripple");
    return labelled("depth", percent(filmed.depth) + " in the first harmonic (1 + m cos), " +
                                 percent(filmed.peak_to_peak) + " from the darkest exposure to the brightest") +
           labelled("", "the exposure leaves " + percent(filmed.share_left) + " of the screen's first harmonic");
}

std::string milliseconds(const Figure& seconds) {
    return number_text(1e3 * *seconds.number(), 1e3 * seconds.uncertainty().value_or(0));
}

std::string nulls_text(const BeatAnswer& answer) {
    const auto& nulls = answer.filmed.nulls;
    if (nulls.empty())
        return "\n" +
               indented(fmt::format("No exposure nulls it: one refresh takes {} ms, longer than a picture's {} ms.",
                                    number_text(1e3 / answer.filming.screen.value()),
                                    number_text(1e3 / answer.filming.camera.value())));
    using enum TextTable::Align;
    const std::string error = plain_text(100 * answer.filming.exposure_error) + " %";
    TextTable rows({{"exposures that null it", Left},
                    {"ms", Left},
                    {"depth if " + error + " off", Right},
                    {"peak to peak", Right}});
    for (const calc::NullExposure& null : nulls) {
        if (static_cast<std::size_t>(null.refreshes) > most_nulls_shown) break;
        rows.add({fmt::format("{} refresh{}", null.refreshes, null.refreshes == 1 ? "" : "es"),
                  milliseconds(null.exposure_s), percent(null.depth), percent(null.peak_to_peak)});
    }
    std::string text = "\n" + rows.to_string(indent);
    if (nulls.size() > most_nulls_shown)
        text += std::string(indent) + fmt::format("and so on up to {} refreshes\n", nulls.size());
    return text;
}

std::string picture_text(const BeatAnswer& answer) {
    if (!answer.strip) return "";
    const calc::FilmStrip& strip = *answer.strip;
    std::string text = fmt::format("{}: {} of the camera's pictures of a grey screen, time to the right",
                                   answer.picture_file, strip.pictures);
    if (strip.step > 1) text += fmt::format(", one in {}", strip.step);
    text += strip.beat_periods > 0 ? fmt::format("; {} of a beat.", number_text(strip.beat_periods)) : "; all alike.";
    return "\n" + wrapped(text, page_width) + "\n";
}

/// One sentence each.
std::string assumptions_text(const BeatAnswer& answer) {
    std::string text;
    for (const std::string& remark : answer.remarks) text += (text.empty() ? "" : " ") + remark + ".";
    std::string assumed;
    for (const std::string& assumption : answer.filming.assumed) assumed += (assumed.empty() ? "" : "; ") + assumption;
    if (!assumed.empty()) text += (text.empty() ? "Assumed: " : " Assumed: ") + assumed + ".";
    return text.empty() ? "" : "\n" + wrapped(text, page_width) + "\n";
}

Json nulls_json(const std::vector<calc::NullExposure>& nulls) {
    Json list = Json::array();
    for (const calc::NullExposure& null : nulls) {
        Json json = {{"refreshes", null.refreshes}};
        add_number(json, "exposure_s", null.exposure_s);
        json["depth_if_off"] = null.depth;
        json["peak_to_peak_if_off"] = null.peak_to_peak;
        list.push_back(std::move(json));
    }
    return list;
}

}  // namespace

std::string beat_text(const BeatAnswer& answer, const table::Table& table) {
    const calc::FilmedScreen& filmed = answer.filmed;
    std::string text = heading(answer) + flicker_text(filmed) + depth_text(answer);
    text += labelled("bands in view", bands_text(filmed)) + labelled("their drift", drift_text(filmed));
    text += nulls_text(answer) + picture_text(answer) + assumptions_text(answer);
    return text + cautions_text(table, answer.cautions) + working_text(answer.working, table) + "\n" +
           wrapped(edition_text(table.edition) + ".", page_width) + "\n";
}

std::string beat_json(const BeatAnswer& answer, const table::Table& table) {
    const calc::FilmedScreen& filmed = answer.filmed;
    Json json = {{"screen_hz", answer.filming.screen.value()},
                 {"screen_ratio", to_string(answer.filming.screen)},
                 {"camera_hz", answer.filming.camera.value()},
                 {"camera_ratio", to_string(answer.filming.camera)}};
    add_number(json, "flicker_hz", filmed.flicker_hz);
    json["beat_ratio"] = to_string(filmed.beat);
    add_number(json, "period_s", filmed.period_s);
    add_number(json, "depth", filmed.depth);
    add_number(json, "peak_to_peak", filmed.peak_to_peak);
    add_number(json, "share_left", filmed.share_left);
    add_number(json, "bands", filmed.bands);
    add_number(json, "drift_per_s", filmed.drift_per_s);
    json["null_exposures_s"] = Json::array();
    for (const calc::NullExposure& null : filmed.nulls) json["null_exposures_s"].push_back(*null.exposure_s.number());
    json["nulls"] = nulls_json(filmed.nulls);
    json["exposure_error"] = answer.filming.exposure_error;
    json["depth_of_lamp"] = answer.filming.is_lamp;
    json["assumed"] = answer.filming.assumed;
    json["remarks"] = answer.remarks;
    if (answer.strip) json["picture"] = answer.picture_file;
    if (!answer.working.empty()) json["working"] = working_json(answer.working);
    json["table_version"] = table.edition.version;
    return to_text(json);
}

}  // namespace guardband::report
