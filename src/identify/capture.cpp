#include "identify/capture.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string_view>

#include "identify/words.h"

namespace guardband::identify {
namespace {

/// A figure and the kind of evidence that it is.
constexpr std::array<std::pair<std::string_view, Kind>, 7> sources{{{"field_rate", Kind::FieldRate},
                                                                    {"line_rate", Kind::LineRate},
                                                                    {"colour", Kind::Colour},
                                                                    {"luma_bandwidth", Kind::LumaBandwidth},
                                                                    {"sound_bandwidth", Kind::SoundBandwidth},
                                                                    {"sound_speed_ratio", Kind::SoundSpeedRatio},
                                                                    {"pulse_rate", Kind::ControlTrackRate}}};

/// The everyday word for the colour on the tape; what players make of another system counts as what was recorded.
std::optional<std::string> recorded_colour(const table::Table& table, const std::string& shown) {
    std::string name = shown;
    if (const table::Colour* colour = table.find_colour(shown)) {
        const table::Fact* recorded = colour->facts.known("recorded_as");
        name = recorded == nullptr ? colour->id : recorded->printed;
    }
    for (const std::string_view word : colour_words)
        if (name.starts_with(word)) return std::string(word);
    return std::nullopt;
}

/// The figure as someone would have written it down; no better than the kind is known on machines and decks, whatever
/// the clock of the capture says.
std::optional<std::string> value_of(const table::Table& table, const quantity::Figure& figure, Kind kind) {
    if (const auto* text = std::get_if<std::string>(&figure.value())) return recorded_colour(table, *text);
    const std::optional<double> number = figure.number();
    const KindData data = data_of(table, kind);
    if (!number || data.scatter == 0) return std::nullopt;
    const quantity::Unit &unit = quantity::unit_named(info_of(kind).unit), &own = quantity::unit_named(figure.unit());
    if (own.dimension != unit.dimension) return std::nullopt;
    const double value = quantity::converted(*number, own, unit);
    const double given = quantity::converted(figure.uncertainty().value_or(0), own, unit);
    if (!(value >= data.lowest && value <= data.highest)) return std::nullopt;
    const double uncertainty = std::max(given, data.scatter * value);
    const int decimals = std::clamp(2 - static_cast<int>(std::floor(std::log10(uncertainty))), 0, 9);
    return fmt::format("{:.{}f}±{:.2g}", value, decimals, uncertainty);
}

/// Fields that were put together to whole frames on the way: the rate that is left is that of the frames.
bool hides_the_fields(const quantity::Figures& figures) {
    const quantity::Figure* scan = figures.find("scan");
    const auto* text = scan == nullptr ? nullptr : std::get_if<std::string>(&scan->value());
    return text != nullptr && *text == "progressive";
}

}  // namespace

std::vector<Observation> observations_from(const table::Table& table, const quantity::Figures& figures,
                                           const std::string& playing_as, const std::string& input) {
    std::vector<Observation> observations;
    for (const auto& [id, kind] : sources) {
        const quantity::Figure* figure = figures.find(id);
        if (figure == nullptr || !figure->is_known()) continue;
        if (kind == Kind::FieldRate && hides_the_fields(figures)) continue;
        const KindInfo::Context wants = info_of(kind).context;
        if (wants == KindInfo::Context::SpeedNeeded && playing_as.empty()) continue;
        const std::string context = wants == KindInfo::Context::None ? "" : playing_as;
        if (const auto value = value_of(table, *figure, kind))
            observations.push_back(
                read_observation(table, std::string(id_of(kind)), *value, context, input + ": " + std::string(id)));
    }
    return observations;
}

}  // namespace guardband::identify
