#include "report/html_lists.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "quantity/unit.h"
#include "report/fact_text.h"
#include "report/format_page.h"
#include "report/html.h"
#include "report/html_texts.h"
#include "report/system_page.h"

namespace guardband::report {
namespace {

using table::Fact;
using table::Facts;
using table::Table;
using table::TapeFormat;

constexpr double same_width_share = 0.02;  // tapes that pass for one width differ by less, different ones by far more
constexpr std::size_t most_cited_shown = 12;  // longer lists hide what they list

/// A table with these headings over its columns; rows come after it. Those that begin with a # are numbers.
std::string table_head(const std::string& classes, const std::vector<std::string>& headings) {
    std::string text = "<div class=\"scroll\"><table class=\"" + classes + "\"><thead><tr>";
    for (const std::string& heading : headings) {
        const bool is_number = heading.starts_with("#");
        text += fmt::format("<th scope=\"col\"{}>{}</th>", is_number ? " class=\"number\"" : "",
                            html_text(is_number ? heading.substr(1) : heading));
    }
    return text + "</tr></thead>\n<tbody>\n";
}

constexpr const char* table_end = "</tbody></table></div>\n";

// Formats

/// Calls `see` with every fact of a format, without what other sources say.
template <typename See>
void for_each_fact(const TapeFormat& format, See see) {
    const auto walk = [&](const Facts& facts) { std::ranges::for_each(facts.all(), see); };
    walk(format.facts), walk(format.tape), walk(format.drum);
    for (const auto& shell : format.shells) walk(shell.facts);
    for (const auto& system : format.systems) walk(system.facts);
    for (const auto& mode : format.modes) walk(mode.facts);
    for (const auto& grade : format.grades) {
        walk(grade.facts);
        for (const auto& time : grade.playing_times) see(time.time);
    }
}

std::string years_of(const TapeFormat& format) {
    const Fact* from = format.facts.known("introduced");
    const Fact* to = format.facts.known("withdrawn");
    return (from == nullptr ? "" : from->printed) + (from == nullptr && to == nullptr ? "" : "–") +
           (to == nullptr ? "" : to->printed);
}

double width_mm(const TapeFormat& format) {
    const Fact* width = format.tape.known("width");
    return width == nullptr ? 0 : width->in("mm");
}

double first_year(const TapeFormat* format) {
    const Fact* year = format->facts.known("introduced");
    return year == nullptr ? 9999 : *year->value;
}

/// Formats by the width of their tape, narrowest first and in each width by year.
std::vector<std::vector<const TapeFormat*>> by_width(const Table& table) {
    std::vector<const TapeFormat*> sorted;
    for (const TapeFormat& format : table.formats) sorted.push_back(&format);
    std::ranges::stable_sort(sorted, {}, [](const TapeFormat* format) { return width_mm(*format); });
    std::vector<std::vector<const TapeFormat*>> groups;
    for (const TapeFormat* format : sorted) {
        const bool is_new =
            groups.empty() || width_mm(*format) > width_mm(*groups.back().front()) * (1 + same_width_share);
        if (is_new) groups.emplace_back();
        groups.back().push_back(format);
    }
    for (auto& group : groups) std::ranges::stable_sort(group, {}, first_year);
    return groups;
}

/// The words for a width in inches, or nothing where it is no simple part of one.
std::string inches_in_words(double mm) {
    constexpr std::pair<double, const char*> words[] = {
        {0.25, "Quarter-inch"}, {0.5, "Half-inch"}, {0.75, "Three-quarter-inch"}, {1, "One-inch"}, {2, "Two-inch"}};
    for (const auto& [inches, word] : words)
        if (std::abs(quantity::converted(mm, quantity::unit_named("mm"), quantity::unit_named("in")) / inches - 1) <
            same_width_share)
            return word;
    return "";
}

std::string width_heading(const std::vector<const TapeFormat*>& formats) {
    const auto [least, most] =
        std::ranges::minmax(formats, {}, [](const TapeFormat* format) { return width_mm(*format); });
    const double low = width_mm(*least), high = width_mm(*most);
    if (high == 0) return "Tape of unknown width";
    const std::string range = low == high ? fmt::format("{:g} mm", low) : fmt::format("{:g} to {:g} mm", low, high);
    const std::string words = inches_in_words(high);
    return words.empty() ? range + " tape" : words + " tape, " + range;
}

std::string width_table(const std::vector<const TapeFormat*>& formats, const PageLinks& links) {
    std::string text = table_head("index formats", {"format", "also called", "systems", "#modes", "years", "records"});
    for (const TapeFormat* format : formats) {
        std::vector<std::string> systems;
        for (const auto& system : format->systems) systems.push_back(system.id);
        const Fact* signal = format->facts.known("signal");
        text += fmt::format(
            "<tr><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td "
            "class=\"number\">{}</td><td>{}</td><td>{}</td></tr>\n",
            links.link(*format, ""), html_text(joined(format->aliases)), html_text(joined(systems)),
            format->modes.size(), years_of(*format), signal == nullptr ? "" : html_text(signal->printed));
    }
    return text + table_end;
}

// TV systems

/// The bare number of a fact, to nine digits, or its text; its page says the rest.
std::string short_cell(const Fact* fact) {
    if (fact == nullptr) return "<td class=\"none number\">–</td>";
    if (!fact->value) return "<td>" + html_text(fact->printed) + "</td>";
    std::string number = fmt::format("{:.9g}", fact->in(shown_unit(*fact).name));
    if (number.starts_with("-")) number.replace(0, 1, "−");
    return "<td class=\"number\">" + number + "</td>";
}

struct SystemColumn {
    const char *key, *heading;
};

const std::vector<std::string>& aliases_of(const System& system) {
    return std::visit([](const auto* s) -> const std::vector<std::string>& { return s->aliases; }, system);
}

std::string system_row(const Table& table, const PageLinks& links, const System& system,
                       const std::vector<SystemColumn>& columns) {
    std::string text = "<tr><th scope=\"row\">" + links.link(system, "") + "</th><td>" +
                       html_text(joined(aliases_of(system))) + "</td>";
    if (kind_of(system) != "scanning") text += "<td>" + links.link(&scanning_of(table, system), "") + "</td>";
    const Facts& facts = std::visit([](const auto* s) -> const Facts& { return s->facts; }, system);
    for (const SystemColumn& column : columns) text += short_cell(facts.known(column.key));
    return text + "</tr>\n";
}

std::string systems_table(const Table& table, const PageLinks& links, const std::string& kind, const std::string& title,
                          const std::vector<SystemColumn>& columns) {
    std::vector<std::string> headings{"system", "also called"};
    if (kind != "scanning") headings.emplace_back("scanning");
    for (const SystemColumn& column : columns) headings.emplace_back(column.heading);
    std::string text = "<section><h2 id=\"" + kind + "\">" + title + "</h2>\n" + table_head("index systems", headings);
    for (const System& system : all_systems(table))
        if (kind_of(system) == kind) text += system_row(table, links, system, columns);
    return text + table_end + "</section>\n";
}

std::string screens_table(const Table& table) {
    std::string text = "<section><h2 id=\"screens\">Screens and lamps that cameras saw</h2>\n" +
                       table_head("index", {"screen", "#refreshes, Hz"});
    for (const table::Screen& screen : table.screens)
        text += "<tr><th scope=\"row\">" + html_text(screen.name) + "</th>" +
                short_cell(screen.facts.known("refresh_rate")) + "</tr>\n";
    return text + table_end + "</section>\n";
}

// Sources

std::string source_row(const table::Source& source, const CitedBy& cited_by) {
    const auto cited = cited_by.find(source.id);
    const std::string by = cited == cited_by.end()                   ? "–"
                           : cited->second.size() > most_cited_shown ? fmt::format("{} pages", cited->second.size())
                                                                     : joined(cited->second);
    std::string title = html_text(source.title);
    if (source.link.starts_with("http://") || source.link.starts_with("https://"))
        title = "<a rel=\"noreferrer\" href=\"" + html_text(source.link) + "\">" + title + "</a>";
    if (!source.year.empty()) title += ", " + html_text(source.year);
    if (!source.note.empty()) title += "<br><span class=\"quiet\">" + html_text(source.note) + "</span>";
    return fmt::format("<tr id=\"{}\"><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td>{}</td></tr>\n",
                       slug(source.id), title, html_text(source.kind), html_text(source.seen), by);
}

}  // namespace

std::string formats_list_html(const Table& table, const PageLinks& links) {
    std::size_t modes = 0, grades = 0;
    std::vector<int> standings(5);
    for (const TapeFormat& format : table.formats) {
        modes += format.modes.size(), grades += format.grades.size();
        const auto own = figures_by_standing(format);
        for (std::size_t i = 0; i < own.size(); ++i) standings[i] += own[i];
    }
    std::string body = fmt::format(
        "<h1>Tape formats</h1>\n<p>{} videotape formats with {} modes of recording and {} lengths of tape: what "
        "each records, how, on what, and how well when it was new. "
        "In the order of their width, the first thing to measure on an unknown tape.</p>\n",
        table.formats.size(), modes, grades);
    body += standing_bar(standings);
    int number = 0;
    for (const auto& formats : by_width(table))
        body += fmt::format("<section><h2 id=\"width-{}\">{}</h2>\n", ++number, width_heading(formats)) +
                width_table(formats, links) + "</section>\n";
    return body;
}

std::string systems_list_html(const Table& table, const PageLinks& links) {
    std::string body =
        "<h1>TV systems</h1>\n<p>Scanning standards, the colour systems on them, and the systems by which they were "
        "sent.</p>\n";
    body += systems_table(table, links, "scanning", "Scanning standards",
                          {{"lines", "#lines"}, {"field_rate", "#fields/s, Hz"}, {"line_rate", "#line rate, Hz"}});
    body += systems_table(table, links, "colour", "Colour systems",
                          {{"subcarrier", "#subcarrier, Hz"},
                           {"subcarrier_red", "#red lines, Hz"},
                           {"subcarrier_blue", "#blue lines, Hz"},
                           {"setup_level", "#set-up, IRE"}});
    body += systems_table(table, links, "transmission", "Transmission systems",
                          {{"channel_width", "#channel, MHz"},
                           {"vision_bandwidth", "#vision, MHz"},
                           {"sound_offset", "#sound, MHz"},
                           {"vision_modulation", "vision"}});
    return body + screens_table(table);
}

std::string sources_list_html(const Table& table, const CitedBy& cited_by) {
    std::string text = fmt::format(
        "<h1>Sources</h1>\n<p>All {} sources that the table cites, how much of each was to hand, and what cites "
        "it. A document that was not seen is never the source of a "
        "figure: it is named where a figure from memory should be checked.</p>\n",
        table.sources.size());
    text += table_head("index sources", {"source", "kind", "seen", "cited by"});
    for (const table::Source& source : table.sources) text += source_row(source, cited_by);
    return text + table_end;
}

std::vector<int> figures_by_standing(const TapeFormat& format) {
    std::vector<int> counts(5);
    for_each_fact(format, [&](const Fact& fact) {
        if (fact.is_known()) ++counts.at(static_cast<std::size_t>(fact.standing));
    });
    return counts;
}

}  // namespace guardband::report
