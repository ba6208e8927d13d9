#include "report/html_pages.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>
#include <numeric>
#include <set>
#include <tuple>

#include "report/format_page.h"
#include "report/html_texts.h"
#include "report/system_page.h"

namespace guardband::report {
namespace {

using table::Fact;
using table::Facts;
using table::Mode;
using table::TapeFormat;

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

template <typename See>
void for_each_source(const Fact& fact, See see) {
    if (fact.is_known()) see(fact.source);
    for (const Fact& other : fact.also) for_each_source(other, see);
}

std::string link(const std::string& to, const std::string& name) {
    return "<a href=\"" + to + "\">" + html_text(name) + "</a>";
}

std::string listed(const std::vector<std::string>& links) { return joined(links); }

std::string years(const TapeFormat& format) {
    const Fact* from = format.facts.known("introduced");
    const Fact* to = format.facts.known("withdrawn");
    return (from == nullptr ? "" : from->printed) + (from == nullptr && to == nullptr ? "" : "–") +
           (to == nullptr ? "" : to->printed);
}

/// Writes all pages; knows the file of each entry, so that any page can link to any other.
class PageSet {
public:
    PageSet(const table::Table& table, const PageDrawings& drawings) : table_(table), drawings_(drawings) {
        for (const TapeFormat& format : table.formats)
            format_files_[format.id] = free_name("formats/" + slug(format.id));
        for (const System& system : all_systems(table))
            system_files_[kind_of(system) + id_of(system)] =
                free_name("systems/" + kind_of(system) + "-" + slug(id_of(system)));
    }

    std::vector<PageFile> whole() && {
        pages_.push_back({"style.css", std::string(style_sheet())});
        for (const TapeFormat& format : table_.formats) add_format(format);
        for (const System& system : all_systems(table_)) add_system(system);
        add("index.html", {"Tape formats", "", "formats"}, index_body());
        add("systems.html", {"TV systems", "", "systems"}, systems_body());
        add("sources.html", {"Sources", "", "sources"}, sources_body());
        add("standings.html", {"How to read the table", "", "standings"}, std::string(standings_body()));
        return std::move(pages_);
    }

private:
    /// A file name that no other page has: ids that differ only in their signs must not share one.
    std::string free_name(const std::string& wanted) {
        std::string name = wanted;
        for (int n = 2; !names_.insert(name).second; ++n) name = fmt::format("{}-{}", wanted, n);
        return name + ".html";
    }

    void add(const std::string& path, const PagePlace& place, const std::string& body) {
        pages_.push_back({path, html_document(place, body, table_.edition)});
    }

    std::string format_link(const TapeFormat& format, const std::string& to_top) const {
        return link(to_top + format_files_.at(format.id), format.name);
    }

    std::string system_link(const System& system, const std::string& to_top) const {
        return link(to_top + system_files_.at(kind_of(system) + id_of(system)), id_of(system));
    }

    // Formats

    void add_format(const TapeFormat& format) {
        const FigurePage page = format_page(table_, format);
        const std::string drawn = footprints(format);
        std::string body = "<h1>" + html_text(format.name) + "</h1>\n" + format_lead(format) +
                           standing_bar(figures_by_standing(format)) + contents(page, !drawn.empty());
        body += groups_html(page, "../") + drawn + notes_html(page, "../");
        add(format_files_.at(format.id), {format.name, "../", "formats"}, body);
        for (const std::string& source : sources_of(format))
            cited_by_[source].push_back(link(format_files_.at(format.id), format.name));
    }

    std::string format_lead(const TapeFormat& format) const {
        std::string text;
        const auto add_line = [&](const std::string& what) { text += "<p class=\"lead\">" + what + "</p>\n"; };
        if (!format.aliases.empty()) add_line("Also called " + html_text(joined(format.aliases)) + ".");
        add_line("Addresses of its modes: " + joined(addresses(format)) + ".");
        if (const TapeFormat* base = table_.find_format(format.based_on))
            add_line("What its own file does not give is taken from " + format_link(*base, "../") + ".");
        if (const auto others = links_of(format.plays); !others.empty())
            add_line("Its machines also play " + listed(others) + ".");
        if (const auto players = players_of(format); !players.empty())
            add_line("Also played by machines of " + listed(players) + ".");
        return text;
    }

    static std::vector<std::string> addresses(const TapeFormat& format) {
        std::vector<std::string> all;
        for (const Mode& mode : format.modes)
            all.push_back("<span class=\"unit\">" + html_text(address_of(format, mode)) + "</span>");
        return all;
    }

    std::vector<std::string> links_of(const std::vector<std::string>& ids) const {
        std::vector<std::string> links;
        for (const std::string& id : ids)
            if (const TapeFormat* format = table_.find_format(id)) links.push_back(format_link(*format, "../"));
        return links;
    }

    std::vector<std::string> players_of(const TapeFormat& played) const {
        std::vector<std::string> links;
        for (const TapeFormat& format : table_.formats)
            if (std::ranges::find(format.plays, played.id) != format.plays.end())
                links.push_back(format_link(format, "../"));
        return links;
    }

    static std::string contents(const FigurePage& page, bool is_drawn) {
        std::string text = "<ul class=\"contents\" aria-label=\"On this page\">\n";
        for (const Group& group : page.groups) text += "<li>" + link("#" + slug(group.title), group.title) + "</li>\n";
        if (is_drawn) text += "<li>" + link("#drawings", "Drawings") + "</li>\n";
        if (!page.remarks.empty()) text += "<li>" + link("#remarks", "Remarks") + "</li>\n";
        text += "<li>" + link("#sources", "Sources") + "</li>\n";
        return text + "</ul>\n";
    }

    static std::set<std::string> sources_of(const TapeFormat& format) {
        std::set<std::string> ids;
        for_each_fact(format,
                      [&](const Fact& fact) { for_each_source(fact, [&](const std::string& id) { ids.insert(id); }); });
        return ids;
    }

    /// One drawing for each mode that can be drawn; modes that draw alike share one.
    std::string footprints(const TapeFormat& format) {
        if (!drawings_.footprint) return "";
        std::string figures;
        for (const Mode& mode : format.modes) {
            const std::string svg = drawings_.footprint(format, mode);
            if (svg.empty()) continue;
            const std::string file = free_name("drawings/" + slug(address_of(format, mode))),
                              path = file.substr(0, file.size() - 5) + ".svg";
            pages_.push_back({path, svg});
            figures += fmt::format(
                "<figure><a href=\"../{0}\"><img src=\"../{0}\" loading=\"lazy\" alt=\"Drawing to scale: the tracks of "
                "{1} on the tape\"></a>\n<figcaption>{1}, tracks "
                "on the tape, to scale</figcaption></figure>\n",
                path, html_text(address_of(format, mode)));
        }
        return figures.empty()
                   ? ""
                   : "<section aria-labelledby=\"drawings\"><h2 id=\"drawings\">Tracks, drawn to scale</h2>\n<div "
                     "class=\"drawings\">\n" +
                         figures + "</div></section>\n";
    }

    // The index: by the width of the tape, which is what one sees first.

    std::string index_body() const {
        std::size_t modes = 0, grades = 0;
        std::vector<int> standings(5);
        for (const TapeFormat& format : table_.formats) {
            modes += format.modes.size(), grades += format.grades.size();
            const auto own = figures_by_standing(format);
            for (std::size_t i = 0; i < own.size(); ++i) standings[i] += own[i];
        }
        std::string body = fmt::format(
            "<h1>Tape formats</h1>\n<p>{} videotape formats with {} modes of recording and {} lengths of tape: what "
            "each records, how, on what, and how well when it was new. "
            "In the order of their width, the first thing to measure on an unknown tape.</p>\n",
            table_.formats.size(), modes, grades);
        body += standing_bar(standings);
        for (const auto& [width_mm, formats] : by_width())
            body += fmt::format("<section><h2 id=\"w{0}\">{1}</h2>\n", slug(fmt::format("{:.2f}", width_mm)),
                                width_heading(width_mm)) +
                    index_table(formats) + "</section>\n";
        return body;
    }

    /// Formats by the nominal width of their tape; those within a tolerance of each other stand together.
    std::map<double, std::vector<const TapeFormat*>> by_width() const {
        constexpr double nominal_mm[] = {3.81, 6.3, 8, 12.7, 19, 25.4, 50.8};
        std::map<double, std::vector<const TapeFormat*>> groups;
        for (const TapeFormat& format : table_.formats) {
            const Fact* width = format.tape.known("width");
            const double mm = width == nullptr ? 0 : width->in("mm");
            const auto* near = std::ranges::find_if(
                nominal_mm, [&](double nominal) { return std::abs(mm - nominal) < 0.02 * nominal; });
            groups[near == std::end(nominal_mm) ? mm : *near].push_back(&format);
        }
        for (auto& [width, formats] : groups) std::ranges::stable_sort(formats, {}, first_year);
        return groups;
    }

    static double first_year(const TapeFormat* format) {
        const Fact* year = format->facts.known("introduced");
        return year == nullptr ? 9999 : *year->value;
    }

    static std::string width_heading(double mm) {
        const std::map<double, std::string_view> names{{6.3, "Quarter-inch tape, 6.3 mm"},
                                                       {12.7, "Half-inch tape, 12.7 mm"},
                                                       {19, "Three-quarter-inch tape, 19 mm"},
                                                       {25.4, "One-inch tape, 25.4 mm"},
                                                       {50.8, "Two-inch tape, 50.8 mm"}};
        const auto found = names.find(mm);
        if (found != names.end()) return std::string(found->second);
        return mm == 0 ? "Tape of unknown width" : fmt::format("{:g} mm tape", mm);
    }

    std::string index_table(const std::vector<const TapeFormat*>& formats) const {
        std::string text =
            "<div class=\"scroll\"><table class=\"index\"><thead><tr><th scope=\"col\">format</th><th "
            "scope=\"col\">also called</th><th scope=\"col\">systems</th>"
            "<th scope=\"col\" class=\"number\">modes</th><th scope=\"col\">years</th><th "
            "scope=\"col\">records</th></tr></thead>\n<tbody>\n";
        for (const TapeFormat* format : formats) {
            std::vector<std::string> systems;
            for (const auto& system : format->systems) systems.push_back(system.id);
            const Fact* signal = format->facts.known("signal");
            text += fmt::format(
                "<tr><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td "
                "class=\"number\">{}</td><td>{}</td><td>{}</td></tr>\n",
                format_link(*format, ""), html_text(joined(format->aliases)), html_text(joined(systems)),
                format->modes.size(), years(*format), signal == nullptr ? "" : html_text(signal->printed));
        }
        return text + "</tbody></table></div>\n";
    }

    // TV systems

    void add_system(const System& system) {
        const FigurePage page = system_page(table_, system);
        const std::string drawn = line_figure(system);
        const std::string body = "<h1>" + html_text(page.title) + "</h1>\n" + system_lead(system) +
                                 contents(page, !drawn.empty()) + groups_html(page, "../") + drawn +
                                 notes_html(page, "../");
        add(system_files_.at(kind_of(system) + id_of(system)), {page.title, "../", "systems"}, body);
        std::set<std::string> ids;
        for (const Fact& fact :
             std::visit([](const auto* s) -> const std::vector<Fact>& { return s->facts.all(); }, system))
            for_each_source(fact, [&](const std::string& id) { ids.insert(id); });
        for (const std::string& id : ids)
            cited_by_[id].push_back(link(system_files_.at(kind_of(system) + id_of(system)), page.title));
    }

    std::string system_lead(const System& system) const {
        std::string text;
        const auto add_line = [&](const std::string& what) { text += "<p class=\"lead\">" + what + "</p>\n"; };
        const auto& aliases =
            std::visit([](const auto* s) -> const std::vector<std::string>& { return s->aliases; }, system);
        if (!aliases.empty()) add_line("Also called " + html_text(joined(aliases)) + ".");
        const table::Scanning& scanning = scanning_of(table_, system);
        if (kind_of(system) != "scanning") add_line("On the scanning standard " + system_link(&scanning, "../") + ".");
        std::map<std::string, std::vector<std::string>> others;
        for (const System& other : all_systems(table_))
            if (kind_of(other) != kind_of(system) && kind_of(other) != "scanning" && go_together(system, other))
                others[kind_of(other)].push_back(system_link(other, "../"));
        if (others.contains("colour")) add_line("Colour systems with it: " + listed(others["colour"]) + ".");
        if (others.contains("transmission"))
            add_line("Transmission systems with it: " + listed(others["transmission"]) + ".");
        if (kind_of(system) != "scanning") return text;
        std::vector<std::string> formats;
        for (const TapeFormat& format : table_.formats)
            if (format.find_system(scanning.id) != nullptr) formats.push_back(format_link(format, "../"));
        if (!formats.empty()) add_line("Tape formats that record it: " + listed(formats) + ".");
        return text;
    }

    /// Whether a colour or transmission system belongs to another system: to its scanning standard, or the one is sent
    /// over the other.
    bool go_together(const System& a, const System& b) const {
        if (kind_of(a) == "scanning" || kind_of(b) == "scanning")
            return &scanning_of(table_, a) == &scanning_of(table_, b);
        const auto* sender = std::get<const table::Transmission*>(kind_of(a) == "transmission" ? a : b);
        const std::string& colour = id_of(kind_of(a) == "colour" ? a : b);
        return std::ranges::find(sender->colours, colour) != sender->colours.end();
    }

    std::string line_figure(const System& system) {
        if (!drawings_.line || kind_of(system) == "transmission") return "";
        const std::string svg = drawings_.line(id_of(system));
        if (svg.empty()) return "";
        const std::string path = "drawings/line-" + kind_of(system) + "-" + slug(id_of(system)) + ".svg";
        pages_.push_back({path, svg});
        return fmt::format(
            "<section aria-labelledby=\"drawings\"><h2 id=\"drawings\">The line, drawn to scale</h2>\n<figure><a "
            "href=\"../{0}\"><img src=\"../{0}\" loading=\"lazy\" alt=\"Drawing to scale: one line "
            "and the field interval of {1}\"></a>\n<figcaption>One line and the field interval of {1}, to "
            "scale</figcaption></figure></section>\n",
            path, html_text(id_of(system)));
    }

    std::string systems_body() const {
        std::string body =
            "<h1>TV systems</h1>\n<p>Scanning standards, the colour systems on them, and the systems by which they "
            "were sent.</p>\n";
        body += systems_table("scanning", "Scanning standards",
                              {{"lines", "lines"}, {"field_rate", "fields/s, Hz"}, {"line_rate", "line rate, Hz"}});
        body += systems_table("colour", "Colour systems",
                              {{"subcarrier", "subcarrier, Hz"},
                               {"subcarrier_red", "red lines, Hz"},
                               {"subcarrier_blue", "blue lines, Hz"},
                               {"setup_level", "set-up, IRE"}});
        body += systems_table("transmission", "Transmission systems",
                              {{"channel_width", "channel, MHz"},
                               {"vision_bandwidth", "vision, MHz"},
                               {"sound_offset", "sound, MHz"},
                               {"vision_modulation", "vision"}});
        return body + screens_section();
    }

    std::string systems_table(const std::string& kind, const std::string& heading,
                              const std::vector<std::pair<std::string, std::string>>& keys) const {
        std::string text = "<section><h2 id=\"" + kind + "\">" + heading +
                           "</h2>\n<div class=\"scroll\"><table class=\"index\"><thead><tr><th "
                           "scope=\"col\">system</th><th scope=\"col\">also called</th>";
        if (kind != "scanning") text += "<th scope=\"col\">scanning</th>";
        for (const auto& [key, title] : keys) text += "<th scope=\"col\">" + html_text(title) + "</th>";
        text += "</tr></thead>\n<tbody>\n";
        for (const System& system : all_systems(table_)) {
            if (kind_of(system) != kind) continue;
            const auto& aliases =
                std::visit([](const auto* s) -> const std::vector<std::string>& { return s->aliases; }, system);
            text +=
                "<tr><th scope=\"row\">" + system_link(system, "") + "</th><td>" + html_text(joined(aliases)) + "</td>";
            if (kind != "scanning") text += "<td>" + system_link(&scanning_of(table_, system), "") + "</td>";
            const Facts& facts = std::visit([](const auto* s) -> const Facts& { return s->facts; }, system);
            for (const auto& [key, title] : keys) text += short_cell(facts.known(key));
            text += "</tr>\n";
        }
        return text + "</tbody></table></div></section>\n";
    }

    /// The bare number of a fact, to nine digits; its page says the rest.
    static std::string short_cell(const Fact* fact) {
        if (fact == nullptr) return "<td class=\"none\">–</td>";
        if (!fact->value) return "<td>" + html_text(fact->printed) + "</td>";
        for (const table::KeyRule& rule : table::key_rules())
            if (rule.key == fact->key) return fmt::format("<td>{:.9g}</td>", fact->in(rule.unit));
        return "<td></td>";
    }

    std::string screens_section() const {
        std::string text =
            "<section><h2 id=\"screens\">Screens and lamps that cameras saw</h2>\n<div class=\"scroll\"><table "
            "class=\"index\"><thead><tr><th scope=\"col\">screen</th><th scope=\"col\">refreshes, "
            "Hz</th></tr></thead>\n<tbody>\n";
        for (const table::Screen& screen : table_.screens)
            text += "<tr><th scope=\"row\">" + html_text(screen.name) + "</th>" +
                    short_cell(screen.facts.known("refresh_rate")) + "</tr>\n";
        return text + "</tbody></table></div></section>\n";
    }

    // Sources

    std::string sources_body() const {
        std::string text = fmt::format(
            "<h1>Sources</h1>\n<p>All {} sources that the table cites, how much of each was to hand, and what cites "
            "it. A document that was not seen is never the source of a "
            "figure: it is named where a figure from memory should be checked.</p>\n",
            table_.sources.size());
        text +=
            "<div class=\"scroll\"><table class=\"index\"><thead><tr><th scope=\"col\">source</th><th "
            "scope=\"col\">kind</th><th scope=\"col\">seen</th><th scope=\"col\">cited by</th></tr></thead>\n<tbody>\n";
        for (const table::Source& source : table_.sources) text += source_row(source);
        return text + "</tbody></table></div>\n";
    }

    std::string source_row(const table::Source& source) const {
        const auto cited = cited_by_.find(source.id);
        const std::string by = cited == cited_by_.end()                  ? "–"
                               : cited->second.size() > most_cited_shown ? fmt::format("{} pages", cited->second.size())
                                                                         : listed(cited->second);
        std::string title = html_text(source.title);
        if (source.link.starts_with("http://") || source.link.starts_with("https://"))
            title = "<a rel=\"noreferrer\" href=\"" + html_text(source.link) + "\">" + title + "</a>";
        if (!source.year.empty()) title += ", " + html_text(source.year);
        if (!source.note.empty()) title += "<br><span class=\"quiet\">" + html_text(source.note) + "</span>";
        return fmt::format("<tr id=\"{}\"><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td>{}</td></tr>\n",
                           slug(source.id), title, html_text(source.kind), html_text(source.seen), by);
    }

    static constexpr std::size_t most_cited_shown = 12;  // longer lists hide what they list

    const table::Table& table_;
    const PageDrawings& drawings_;
    std::map<std::string, std::string> format_files_, system_files_;
    std::map<std::string, std::vector<std::string>> cited_by_;
    std::set<std::string> names_;
    std::vector<PageFile> pages_;
};

}  // namespace

std::vector<int> figures_by_standing(const TapeFormat& format) {
    std::vector<int> counts(5);
    for_each_fact(format, [&](const Fact& fact) {
        if (fact.is_known()) ++counts.at(static_cast<std::size_t>(fact.standing));
    });
    return counts;
}

std::vector<PageFile> html_pages(const table::Table& table, const PageDrawings& drawings) {
    return PageSet(table, drawings).whole();
}

}  // namespace guardband::report
