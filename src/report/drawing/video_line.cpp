#include "report/drawing/video_line.h"

#include <fmt/format.h>

#include <cmath>

#include "quantity/errors.h"
#include "table/suggestion.h"

namespace guardband::report::drawing {
namespace {

using quantity::InputError;
using table::Fact;
using table::Facts;

constexpr double rounding_us = 0.011;  // how far printed times may fall short of adding up before it is worth a remark

std::optional<double> value_of(const Facts& facts, std::string_view key, std::string_view unit) {
    const Fact* fact = facts.known(key);
    return fact != nullptr && fact->is_number() ? std::optional(fact->in(unit)) : std::nullopt;
}

std::string reason_of(const Facts& facts, std::string_view key) {
    const Fact* fact = facts.find(key);
    return fact != nullptr && !fact->is_known() ? fact->unknown : "not in the table";
}

double needed_us(const table::Scanning& scanning, std::string_view key, std::string_view name,
                 const std::string& input) {
    if (const auto value = value_of(scanning.facts, key, "µs")) return *value;
    throw InputError(input, fmt::format("the table gives no {} of {}", name, scanning.id),
                     "`guardband systems` shows what it has; a file of your own with --formats can add to it");
}

std::vector<std::string> known_names(const table::Table& table) {
    std::vector<std::string> names;
    for (const table::Colour& colour : table.colours) names.push_back(colour.id);
    for (const table::Scanning& scanning : table.scannings) names.push_back(scanning.id);
    return names;
}

/// A colour system before the scanning standard of the same everyday word: who asks for PAL means the colour.
void name_system(VideoLine& line, const table::Table& table, const std::string& system, const std::string& input) {
    if (const table::Colour* colour = table.find_colour(system)) {
        line.colour = colour;
        line.scanning = table.find_scanning(colour->scanning);
    } else {
        line.scanning = table.find_scanning(system);
    }
    if (line.scanning != nullptr) return;
    if (const table::Transmission* transmission = table.find_transmission(system))
        throw InputError(input, fmt::format("{} is a way of transmission", transmission->name),
                         fmt::format("draw its scanning standard, {}, or a colour system", transmission->scanning));
    throw InputError(input, "no scanning standard or colour system of that name",
                     table::did_you_mean(system, known_names(table), "`guardband systems` lists those it knows"));
}

void read_line(VideoLine& line, const std::string& input) {
    const Facts& facts = line.scanning->facts;
    line.period_us = 1e6 / line.scanning->line_rate().value();
    const double blanking = needed_us(*line.scanning, "line_blanking", "line blanking", input);
    line.porch_us = needed_us(*line.scanning, "front_porch", "front porch", input);
    line.sync_us = needed_us(*line.scanning, "sync_width", "line sync", input);
    line.picture_us = value_of(facts, "sync_to_picture", "µs").value_or(blanking - line.porch_us);
    if (line.picture_us <= line.sync_us || line.blanking_us() >= line.period_us)
        throw InputError(
            input, fmt::format("line sync, porches and blanking of {} don’t fit into its line", line.scanning->id),
            "correct them in the table");
    if (std::abs(line.blanking_us() - blanking) > rounding_us)
        line.remarks.push_back(
            fmt::format("front porch and sync edge to picture make {:.4g} µs where line blanking is given as {:.4g} µs",
                        line.blanking_us(), blanking));
    line.blanking_edge_us = value_of(facts, "line_blanking_rise", "µs").value_or(0);
    line.sync_edge_us = value_of(facts, "sync_rise", "µs").value_or(0);
    if (line.sync_edge_us == 0)
        line.missing.push_back(fmt::format("rise of the sync edges ({})", reason_of(facts, "sync_rise")));
    if (line.blanking_edge_us == 0)
        line.missing.push_back(fmt::format("rise of the blanking edges ({})", reason_of(facts, "line_blanking_rise")));
}

void read_levels(VideoLine& line) {
    if (line.colour == nullptr) {
        line.missing.emplace_back("levels and burst (they belong to a colour system: draw that)");
        return;
    }
    const Facts& facts = line.colour->facts;
    const auto sync = value_of(facts, "sync_level", "mV"), white = value_of(facts, "white_level", "mV"),
               setup = value_of(facts, "setup_level", "IRE");
    if (sync && white)
        line.levels = Levels{*sync, setup.value_or(0) / 100 * *white, *white};
    else
        line.missing.push_back(fmt::format("levels ({})", reason_of(facts, sync ? "white_level" : "sync_level")));
    const auto start = value_of(facts, "burst_start", "µs"), cycles = value_of(facts, "burst_cycles", ""),
               amplitude = value_of(facts, "burst_amplitude", "mV"), subcarrier = value_of(facts, "subcarrier", "Hz");
    if (start && cycles && amplitude && subcarrier)
        line.burst = Burst{*start, *cycles, *amplitude, *subcarrier};
    else
        line.missing.push_back(fmt::format("burst ({})", reason_of(facts, start ? "burst_cycles" : "burst_start")));
}

void read_field(VideoLine& line) {
    const Facts& facts = line.scanning->facts;
    const auto equalising = value_of(facts, "equalising_pulses", ""), broad = value_of(facts, "broad_pulses", ""),
               broad_us = value_of(facts, "broad_width", "µs"),
               equalising_us = value_of(facts, "equalising_width", "µs"),
               blanking = value_of(facts, "field_blanking", "lines");
    if (!equalising || !broad || !broad_us || !blanking || (*equalising > 0 && !equalising_us)) {
        line.missing.emplace_back("field blanking (not in the table)");
        return;
    }
    FieldInterval field{static_cast<int>(*equalising),
                        equalising_us.value_or(0),
                        static_cast<int>(*broad),
                        *broad_us,
                        *blanking,
                        false,
                        0};
    if (const Fact* one = facts.known("line_one")) {
        field.numbered = true;
        if (one->printed.find("broad") != std::string::npos) field.first_half_line = -field.equalising;
    } else {
        line.missing.push_back(fmt::format("numbers of the lines ({})", reason_of(facts, "line_one")));
    }
    line.field = field;
}

}  // namespace

int VideoLine::lines() const { return static_cast<int>(scanning->lines().numerator()); }

int VideoLine::first_pulse(int field_number) const { return field->first_half_line + field_number * lines(); }

int VideoLine::first_picture(int field_number) const {
    return first_pulse(field_number) + static_cast<int>(std::lround(2 * field->blanking_lines));
}

int VideoLine::line_number(int half_line) const {
    const int in_frame = (half_line % (2 * lines()) + 2 * lines()) % (2 * lines());
    return in_frame / 2 + 1;
}

std::vector<Pulse> VideoLine::pulses(int field_number, int from, int to) const {
    std::vector<Pulse> all;
    const int first = first_pulse(field_number);
    for (int half_line = from; half_line < to; ++half_line) {
        const double start_us = (half_line - from) * period_us / 2;
        const int place = half_line - first;
        if (place >= 0 && place < 2 * field->equalising + field->broad) {
            const bool is_broad = place >= field->equalising && place < field->equalising + field->broad;
            all.push_back({start_us, is_broad ? field->broad_us : field->equalising_us});
        } else if (half_line % 2 == 0) {
            all.push_back({start_us, sync_us});
        }
    }
    return all;
}

VideoLine video_line_of(const table::Table& table, const std::string& system, const std::string& input) {
    VideoLine line;
    name_system(line, table, system, input);
    read_line(line, input);
    read_levels(line);
    read_field(line);
    return line;
}

}  // namespace guardband::report::drawing
