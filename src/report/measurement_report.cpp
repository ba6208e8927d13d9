#include "report/measurement_report.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "quantity/quantity.h"
#include "report/event_rows.h"
#include "report/figure_page.h"
#include "report/json.h"
#include "report/line_services.h"
#include "report/text_table.h"

namespace guardband::report {
namespace {

using quantity::Event;
using quantity::Figure;
using quantity::Verdict;

constexpr std::size_t most_events_shown = 20;

/// Decimals that show two significant digits of the uncertainty.
int decimals_for(double uncertainty) {
    if (!(uncertainty > 0)) return 6;
    return std::clamp(1 - static_cast<int>(std::floor(std::log10(uncertainty))), 0, 9);
}

constexpr double smallest_share = 1e-6;  // below, a person needs to know no more than that

/// What a figure is shown in: shares as per cent, all else in its own unit.
struct ShownUnit {
    std::string_view name;
    double factor = 1;
};

ShownUnit shown_unit(const Figure& figure) {
    return figure.unit() == "share" ? ShownUnit{"%", 100} : ShownUnit{figure.unit()};
}

std::string real_text(double value, std::optional<double> uncertainty) {
    if (!uncertainty || *uncertainty <= 0) return fmt::format("{:.7g}", value);
    const int decimals = decimals_for(*uncertainty);
    return fmt::format("{:.{}f} ± {:.{}f}", value, decimals, *uncertainty, decimals);
}

std::string shown_number(const Figure& figure, double factor) {
    if (const auto* count = std::get_if<std::int64_t>(&figure.value())) return std::to_string(*count);
    const double value = std::get<double>(figure.value());
    if (figure.unit() == "share" && value > 0 && value < smallest_share)
        return fmt::format("less than {:g}", smallest_share * factor);
    const auto uncertainty = figure.uncertainty();
    return real_text(value * factor, uncertainty ? std::optional(*uncertainty * factor) : std::nullopt);
}

std::string limit_text(const Figure& figure) {
    if (!figure.limit()) return "";
    const quantity::Limit& limit = *figure.limit();
    if (limit.text) return *limit.text;
    const ShownUnit unit = shown_unit(figure);
    const auto number = [&](double value) { return fmt::format("{:.7g}", value * unit.factor); };
    const std::string name = unit.name == "%" ? " %" : "";
    if (limit.low && limit.high) return number(*limit.low) + " to " + number(*limit.high) + name;
    return (limit.low ? "at least " + number(*limit.low) : "at most " + number(*limit.high)) + name;
}

/// Where the limits come from, each source once and numbered in the order of showing.
class LimitSources {
public:
    std::string mark(const Figure& figure) {
        if (!figure.limit()) return "";
        const auto at = std::ranges::find(sources_, figure.limit()->source);
        const auto number = at - sources_.begin() + 1;
        if (at == sources_.end()) sources_.push_back(figure.limit()->source);
        return fmt::format(" [{}]", number);
    }

    std::string to_string(std::size_t width) const {
        std::string text;
        for (std::size_t i = 0; i < sources_.size(); ++i) {
            const std::string mark = fmt::format("  {:>4} ", fmt::format("[{}]", i + 1));
            text += mark + wrapped(sources_[i], width, mark.size()) + "\n";
        }
        return text.empty() ? "" : "\nLimits\n" + text;
    }

private:
    std::vector<std::string> sources_;
};

std::string verdict_text(const Figure& figure) {
    return figure.verdict() == Verdict::NoLimit ? "" : std::string(to_string(figure.verdict()));
}

std::string alternatives_text(const Figure& figure) {
    std::string text;
    for (const double value : figure.alternatives())
        text += (text.empty() ? "could also be " : ", ") + fmt::format("{:.6g}", value);
    if (!text.empty() && !figure.unit().empty()) text += " " + figure.unit();
    return text;
}

/// A figure with the title and group that it is shown under.
struct Shown {
    std::string id, title, group;
    const Figure* figure;
};

std::vector<Shown> in_order(const Measurement& measurement, const std::vector<FigureTitle>& titles) {
    std::vector<Shown> shown;
    for (const FigureTitle& title : titles)
        if (const Figure* figure = measurement.figures.find(title.id))
            shown.push_back({std::string(title.id), std::string(title.title), std::string(title.group), figure});
    for (const auto& [id, figure] : measurement.figures.all())
        if (std::ranges::find(titles, id, &FigureTitle::id) == titles.end())
            shown.push_back({id, id, "Other", &figure});
    return shown;
}

std::string summary_text(const std::vector<Shown>& shown, std::size_t width) {
    std::string outside;
    std::size_t outside_count = 0, judged = 0, unknown = 0;
    for (const Shown& entry : shown) {
        unknown += entry.figure->is_known() ? 0 : 1;
        judged += entry.figure->verdict() == Verdict::NoLimit ? 0 : 1;
        if (entry.figure->verdict() != Verdict::Outside) continue;
        ++outside_count;
        outside += (outside.empty() ? "" : ", ") + entry.title;
    }
    std::string text = judged == 0 ? "None of these figures has a limit."
                                   : fmt::format("All {} figures that have a limit are within it.", judged);
    if (outside_count > 0)
        text = fmt::format("Outside {}: {} ({} of {} figures that have one).",
                           outside_count == 1 ? "its limit" : "their limits", outside, outside_count, judged);
    if (unknown > 0) text += fmt::format(" {} {} not measured.", unknown, unknown == 1 ? "was" : "were");
    return wrapped(text, width) + "\n";
}

TextTable figure_table() {
    using enum TextTable::Align;
    return TextTable({{"", Left}, {"", Left}, {"", Left}, {"", Left}});
}

/// `0.707 Hz  ± 0.0702 %  pinch roller, harmonic 2`; of displacement in time, whose share of the speed is tiny,
/// `25 Hz  ± 480 ns  drum`
std::string component_text(const quantity::Component& component) {
    std::string text = fmt::format("{:>9.4g} Hz", component.hz);
    const std::string size = component.amplitude_ns ? fmt::format("± {:.3g} ns", *component.amplitude_ns)
                                                    : fmt::format("± {:.3g} %", component.depth_percent);
    if (component.part.empty()) return text + "  " + size;
    text += fmt::format("  {:<12}  {}", size, component.part);
    if (component.harmonic > 1) text += fmt::format(", harmonic {}", component.harmonic);
    return text;
}

void add_figure(TextTable& table, const Shown& entry, LimitSources& sources, std::size_t width) {
    const Figure& figure = *entry.figure;
    table.add(
        {entry.title, figure_value_text(figure), verdict_text(figure), limit_text(figure) + sources.mark(figure)});
    for (const std::string& remark : {alternatives_text(figure), figure.note()})
        if (!remark.empty()) table.add_line("      " + wrapped(remark, width, 6));
    if (const auto* components = std::get_if<std::vector<quantity::Component>>(&figure.value()))
        for (const quantity::Component& component : *components) table.add_line("    " + component_text(component));
    if (const auto* services = std::get_if<std::vector<quantity::LineService>>(&figure.value()))
        for (const quantity::LineService& service : *services)
            for (const std::string& line : service_lines(service, width)) table.add_line(line);
}

/// The known figures, each group under its name; all in one table, so that the columns stand in line.
std::string groups_text(const std::vector<Shown>& shown, LimitSources& sources, std::size_t columns) {
    TextTable table = figure_table();
    std::string group;
    for (const Shown& entry : shown) {
        if (!entry.figure->is_known()) continue;
        if (entry.group != group) table.add_line("\n" + entry.group);
        group = entry.group;
        add_figure(table, entry, sources, columns);
    }
    return table.to_string("  ");
}

/// Figures that share a reason stand together before it.
std::string unknowns_text(const std::vector<Shown>& shown, std::size_t columns) {
    std::vector<std::pair<std::string, std::string>> rows;  // titles, reason
    for (const Shown& entry : shown) {
        if (entry.figure->is_known()) continue;
        const std::string& reason = entry.figure->reason();
        if (!rows.empty() && rows.back().second == reason)
            rows.back().first += "; " + entry.title;
        else
            rows.emplace_back(entry.title, reason);
    }
    std::string text;
    for (const auto& [titles, reason] : rows) text += "  " + wrapped(titles + ": " + reason, columns, 6) + "\n";
    return text.empty() ? "" : "\nNot measured\n" + text;
}

std::string events_text(const std::vector<Event>& events, std::size_t columns) {
    if (events.empty()) return "";
    using enum TextTable::Align;
    TextTable table({{"", Right}, {"", Right}, {"", Left}, {"", Left}});
    const std::vector<EventRow> rows = event_rows(events);
    std::vector<std::array<std::string, 3>> heads;
    std::array<std::size_t, 3> widths{};
    for (std::size_t i = 0; i < std::min(rows.size(), most_events_shown); ++i) {
        heads.push_back({fmt::format("{:.2f} s", rows[i].time_s),
                         rows[i].frame ? fmt::format("frame {}", *rows[i].frame) : "",
                         std::string(to_string(rows[i].severity))});
        for (std::size_t c = 0; c < widths.size(); ++c) widths[c] = std::max(widths[c], display_width(heads[i][c]));
    }
    constexpr std::size_t blanks = 2;
    const std::size_t before = blanks + std::accumulate(widths.begin(), widths.end(), widths.size() * blanks);
    const std::size_t widest = std::max(columns, before + 20) - before;
    for (std::size_t i = 0; i < heads.size(); ++i)
        table.add_wrapped({heads[i][0], heads[i][1], heads[i][2], rows[i].what}, widest);
    std::string text = "\nEvents\n" + table.to_string("  ");
    if (rows.size() > most_events_shown)
        text += fmt::format("  … and {} more; --json lists them all\n", rows.size() - most_events_shown);
    else if (rows.size() < events.size())
        text += "  --json lists each of them\n";
    return text;
}

Json input_json(const Measurement& measurement) {
    Json json = Json::object();
    for (const auto& [key, value] : measurement.input) json[key] = to_json(value);
    if (!measurement.trouble.empty()) json["trouble"] = measurement.trouble;
    return json;
}

}  // namespace

std::string figure_value_text(const Figure& figure) {
    if (!figure.is_known()) return "-";
    if (const auto* text = std::get_if<std::string>(&figure.value())) return *text;
    if (const auto* components = std::get_if<std::vector<quantity::Component>>(&figure.value()))
        return components->empty() ? "none above the noise"
                                   : fmt::format("{}, the strongest first", components->size());
    if (const auto* services = std::get_if<std::vector<quantity::LineService>>(&figure.value()))
        return services_text(*services);
    const ShownUnit unit = shown_unit(figure);
    return shown_number(figure, unit.factor) + (unit.name.empty() ? "" : " " + std::string(unit.name));
}

std::string measurement_text(const Measurement& measurement, const std::vector<FigureTitle>& titles) {
    const std::vector<Shown> shown = in_order(measurement, titles);
    const std::size_t width = measurement.columns;
    std::string text = wrapped(measurement.headline, width) + "\n";
    if (!measurement.trouble.empty()) text += wrapped("Attention: " + measurement.trouble, width) + "\n";
    LimitSources sources;
    text += summary_text(shown, width) + groups_text(shown, sources, width) + unknowns_text(shown, width) +
            events_text(measurement.events, width);
    return text + sources.to_string(width) + "\n" + edition_text(measurement.edition) + ".\n";
}

std::string measurement_line(const Measurement& measurement, const std::vector<FigureTitle>& titles) {
    std::string kind = measurement.kind, outside;
    for (const char* id : {"tv_system", "scan", "field_order"})
        if (const Figure* figure = measurement.figures.find(id); figure != nullptr && figure->is_known())
            kind += (kind.empty() ? "" : ", ") + figure_value_text(*figure);
    std::size_t judged = 0;
    for (const Shown& entry : in_order(measurement, titles)) {
        judged += entry.figure->verdict() == Verdict::NoLimit ? 0 : 1;
        if (entry.figure->verdict() == Verdict::Outside)
            outside += (outside.empty() ? "" : "; ") + entry.title + " " + figure_value_text(*entry.figure) + " (" +
                       limit_text(*entry.figure) + ")";
    }
    return (kind.empty() ? "unknown system" : kind) + ": " +
           (judged == 0       ? "none of these figures has a limit"
            : outside.empty() ? fmt::format("all {} figures that have a limit are within it", judged)
                              : "outside: " + outside) +
           "\n";
}

std::string measurement_json(const Measurement& measurement) {
    Json json = {{"schema", "guardband.measure/1"},
                 {"input", input_json(measurement)},
                 {"figures", Json::object()},
                 {"events", Json::array()}};
    for (const auto& [id, figure] : measurement.figures.all()) json["figures"][id] = to_json(figure);
    for (const Event& event : measurement.events) json["events"].push_back(to_json(event));
    json["table_version"] = measurement.edition.version;
    return to_text(json);
}

}  // namespace guardband::report
