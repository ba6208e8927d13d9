#include "report/format_report.h"

#include <fmt/format.h>

#include <algorithm>

#include "report/figure_page_text.h"
#include "report/format_page.h"
#include "report/json.h"
#include "report/text_table.h"

namespace guardband::report {
namespace {

using table::Fact;
using table::Grade;
using table::Mode;
using table::TapeFormat;

constexpr std::size_t widest_name = 40;  // of the list: with the other columns a terminal of 100

std::string years_text(const TapeFormat& format) {
    const Fact* from = format.facts.known("introduced");
    const Fact* to = format.facts.known("withdrawn");
    if (from == nullptr) return "";
    return from->printed + "–" + (to == nullptr ? "" : to->printed);
}

std::string width_text(const TapeFormat& format) {
    const Fact* width = format.tape.known("width");
    return width == nullptr ? "?" : fmt::format("{:.2f}", width->in("mm"));
}

/// The scanning standards by their lines, as people at a bench call them: `525 625`.
std::string lines_text(const TapeFormat& format) {
    std::vector<std::string> lines;
    for (const table::FormatSystem& system : format.systems) {
        const std::string count = system.id.substr(0, system.id.find('/'));
        if (std::ranges::find(lines, count) == lines.end()) lines.push_back(count);
    }
    return joined(lines, " ");
}

/// The name by which most people know a format, beside its own.
std::string everyday_name(const TapeFormat& format) {
    return format.aliases.empty() ? format.name : format.name + " (" + format.aliases.front() + ")";
}

/// The modes of each system, systems apart: `SP LP EP | SP LP`.
std::string modes_text(const TapeFormat& format) {
    std::vector<std::string> by_system;
    for (const table::FormatSystem& system : format.systems) {
        std::vector<std::string> ids;
        for (const Mode& mode : format.modes)
            if (mode.system == system.id) ids.push_back(mode.id);
        by_system.push_back(joined(ids, " "));
    }
    return joined(by_system, " | ");
}

Json shell_json(const table::Shell& shell) {
    return {{"id", shell.id}, {"name", shell.name}, {"figures", to_json(shell.facts)}};
}

Json grade_json(const Grade& grade) {
    Json json = {{"id", grade.id},
                 {"aliases", grade.aliases},
                 {"shell", grade.shell},
                 {"label_system", grade.label_system},
                 {"figures", to_json(grade.facts)}};
    json["playing_times"] = Json::array();
    for (const table::PlayingTime& time : grade.playing_times) {
        Json entry = {{"mode", time.system + ":" + time.mode}};
        entry.update(to_json(time.time));
        json["playing_times"].push_back(entry);
    }
    return json;
}

Json format_json(const TapeFormat& format) {
    Json json = {{"id", format.id},
                 {"name", format.name},
                 {"aliases", format.aliases},
                 {"family", format.family},
                 {"based_on", format.based_on},
                 {"plays", format.plays},
                 {"grades_of", format.grades_of},
                 {"figures", to_json(format.facts)},
                 {"tape", to_json(format.tape)},
                 {"drum", to_json(format.drum)}};
    for (const char* list : {"shells", "systems", "modes", "grades"}) json[list] = Json::array();
    for (const table::Shell& shell : format.shells) json["shells"].push_back(shell_json(shell));
    for (const table::FormatSystem& system : format.systems)
        json["systems"].push_back({{"id", system.id}, {"figures", to_json(system.facts)}});
    for (const Mode& mode : format.modes)
        json["modes"].push_back({{"address", address_of(format, mode)},
                                 {"system", mode.system},
                                 {"id", mode.id},
                                 {"aliases", mode.aliases},
                                 {"figures", to_json(mode.facts)}});
    for (const Grade& grade : format.grades) json["grades"].push_back(grade_json(grade));
    return json;
}

}  // namespace

std::string formats_list_text(const table::Table& table, const std::vector<const TapeFormat*>& formats) {
    using enum TextTable::Align;
    TextTable rows({{"id", Left}, {"format", Left}, {"tape mm", Right}, {"lines", Left}, {"years", Left}});
    for (const TapeFormat* format : formats)
        rows.add_wrapped(
            {format->id, everyday_name(*format), width_text(*format), lines_text(*format), years_text(*format)},
            widest_name);
    return rows.to_string() +
           fmt::format("\n{} formats. `guardband formats ID` shows one with its modes, lengths and sources.\n{}.\n",
                       formats.size(), edition_text(table.edition));
}

std::string formats_list_csv(const std::vector<const TapeFormat*>& formats) {
    TextTable table({{"id"}, {"name"}, {"aliases"}, {"tape_width_mm"}, {"lines"}, {"modes"}, {"grades"}, {"years"}});
    for (const TapeFormat* format : formats)
        table.add({format->id, format->name, joined(format->aliases), width_text(*format), lines_text(*format),
                   modes_text(*format), std::to_string(format->grades.size()), years_text(*format)});
    return table.to_csv();
}

std::string format_page_text(const table::Table& table, const TapeFormat& format) {
    return figure_page_text(format_page(table, format), table.edition);
}

std::string formats_json(const table::Table& table, const std::vector<const TapeFormat*>& formats) {
    Json list = Json::array();
    for (const TapeFormat* format : formats) list.push_back(format_json(*format));
    return to_text(with_edition(Json{{"formats", list}}, table));
}

}  // namespace guardband::report
