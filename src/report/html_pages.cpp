#include "report/html_pages.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "report/format_page.h"
#include "report/html_links.h"
#include "report/html_lists.h"
#include "report/html_texts.h"
#include "report/system_page.h"

namespace guardband::report {
namespace {

using table::Fact;
using table::Mode;
using table::TapeFormat;

/// Writes all pages; knows the file of each entry, so that any page can link to any other.
class PageSet {
public:
    PageSet(const table::Table& table, const PageDrawings& drawings)
        : table_(table), drawings_(drawings), links_(table) {}

    std::vector<PageFile> whole() && {
        pages_.push_back({"style.css", std::string(style_sheet())});
        for (const TapeFormat& format : table_.formats) add_format(format);
        for (const System& system : all_systems(table_)) add_system(system);
        for (const table::Screen& screen : table_.screens)
            for (const Fact& fact : screen.facts.all())
                if (fact.is_known()) cited_by_[fact.source].push_back(html_link("systems.html#screens", screen.name));
        add("index.html", {"Tape formats", "", "formats"}, formats_list_html(table_, links_));
        add("systems.html", {"TV systems", "", "systems"}, systems_list_html(table_, links_));
        add("sources.html", {"Sources", "", "sources"}, sources_list_html(table_, cited_by_));
        add("standings.html", {"How to read the table", "", "standings"}, std::string(standings_body()));
        return std::move(pages_);
    }

private:
    void add(const std::string& path, const PagePlace& place, const std::string& body) {
        pages_.push_back({path, html_document(place, body, table_.edition)});
    }

    /// Keeps which page cites which source, for the page of sources.
    void note_citations(const FigurePage& page, const std::string& link) {
        for (std::size_t i = 0; i < page.sources.size(); ++i)
            if (page.sources[i].first == i + 1) cited_by_[page.sources[i].source->id].push_back(link);
        for (const auto& [letter, meaning] : page.standings)
            cited_by_[letter == "M" ? "memory" : letter == "C" ? "computed" : "practice"].push_back(link);
    }

    // Formats

    void add_format(const TapeFormat& format) {
        const FigurePage page = format_page(table_, format);
        const std::string drawn = footprints(format);
        std::string body = "<h1>" + html_text(format.name) + "</h1>\n" + format_lead(format) +
                           standing_bar(figures_by_standing(format)) + contents(page, !drawn.empty());
        body += groups_html(page, "../") + drawn + notes_html(page, "../");
        add(links_.file_of(format), {format.name, "../", "formats"}, body);
        note_citations(page, html_link(links_.file_of(format), format.name));
    }

    std::string format_lead(const TapeFormat& format) const {
        std::string text;
        const auto add_line = [&](const std::string& what) { text += "<p class=\"lead\">" + what + "</p>\n"; };
        if (!format.aliases.empty()) add_line("Also called " + html_text(joined(format.aliases)) + ".");
        add_line("Addresses of its modes: " + joined(addresses(format)) + ".");
        if (const TapeFormat* base = table_.find_format(format.based_on))
            add_line("What its own file does not give is taken from " + links_.link(*base, "../") + ".");
        if (const auto others = links_of(format.plays); !others.empty())
            add_line("Its machines also play " + joined(others) + ".");
        if (const auto players = players_of(format); !players.empty())
            add_line("Also played by machines of " + joined(players) + ".");
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
            if (const TapeFormat* format = table_.find_format(id)) links.push_back(links_.link(*format, "../"));
        return links;
    }

    std::vector<std::string> players_of(const TapeFormat& played) const {
        std::vector<std::string> links;
        for (const TapeFormat& format : table_.formats)
            if (std::ranges::find(format.plays, played.id) != format.plays.end())
                links.push_back(links_.link(format, "../"));
        return links;
    }

    static std::string contents(const FigurePage& page, bool is_drawn) {
        std::string text = "<ul class=\"contents\" aria-label=\"On this page\">\n";
        for (const Group& group : page.groups)
            text += "<li>" + html_link("#" + slug(group.title), group.title) + "</li>\n";
        if (is_drawn) text += "<li>" + html_link("#drawings", "Drawings") + "</li>\n";
        if (!page.remarks.empty()) text += "<li>" + html_link("#remarks", "Remarks") + "</li>\n";
        text += "<li>" + html_link("#sources", "Sources") + "</li>\n";
        return text + "</ul>\n";
    }

    /// One drawing for each mode that can be drawn.
    std::string footprints(const TapeFormat& format) {
        if (!drawings_.footprint) return "";
        std::string figures;
        for (const Mode& mode : format.modes) {
            const std::string svg = drawings_.footprint(format, mode);
            if (svg.empty()) continue;
            const std::string path = links_.free_path("drawings/" + slug(address_of(format, mode)), ".svg");
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

    // TV systems

    void add_system(const System& system) {
        const FigurePage page = system_page(table_, system);
        const std::string drawn = line_figure(system);
        const std::string body = "<h1>" + html_text(page.title) + "</h1>\n" + system_lead(system) +
                                 contents(page, !drawn.empty()) + groups_html(page, "../") + drawn +
                                 notes_html(page, "../");
        add(links_.file_of(system), {page.title, "../", "systems"}, body);
        note_citations(page, html_link(links_.file_of(system), page.title));
    }

    std::string system_lead(const System& system) const {
        std::string text;
        const auto add_line = [&](const std::string& what) { text += "<p class=\"lead\">" + what + "</p>\n"; };
        const auto& aliases =
            std::visit([](const auto* s) -> const std::vector<std::string>& { return s->aliases; }, system);
        if (!aliases.empty()) add_line("Also called " + html_text(joined(aliases)) + ".");
        const table::Scanning& scanning = scanning_of(table_, system);
        if (kind_of(system) != "scanning") add_line("On the scanning standard " + links_.link(&scanning, "../") + ".");
        std::map<std::string, std::vector<std::string>> others;
        for (const System& other : all_systems(table_))
            if (kind_of(other) != kind_of(system) && kind_of(other) != "scanning" && go_together(system, other))
                others[kind_of(other)].push_back(links_.link(other, "../"));
        if (others.contains("colour")) add_line("Colour systems with it: " + joined(others["colour"]) + ".");
        if (others.contains("transmission"))
            add_line("Transmission systems with it: " + joined(others["transmission"]) + ".");
        if (kind_of(system) != "scanning") return text;
        std::vector<std::string> formats;
        for (const TapeFormat& format : table_.formats)
            if (format.find_system(scanning.id) != nullptr) formats.push_back(links_.link(format, "../"));
        if (!formats.empty()) add_line("Tape formats that record it: " + joined(formats) + ".");
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
        const std::string path =
            links_.free_path("drawings/line-" + kind_of(system) + "-" + slug(id_of(system)), ".svg");
        pages_.push_back({path, svg});
        return fmt::format(
            "<section aria-labelledby=\"drawings\"><h2 id=\"drawings\">The line, drawn to scale</h2>\n<figure><a "
            "href=\"../{0}\"><img src=\"../{0}\" loading=\"lazy\" alt=\"Drawing to scale: one line "
            "and the field interval of {1}\"></a>\n<figcaption>One line and the field interval of {1}, to "
            "scale</figcaption></figure></section>\n",
            path, html_text(id_of(system)));
    }

    const table::Table& table_;
    const PageDrawings& drawings_;
    PageLinks links_;
    CitedBy cited_by_;
    std::vector<PageFile> pages_;
};

}  // namespace

std::vector<PageFile> html_pages(const table::Table& table, const PageDrawings& drawings) {
    return PageSet(table, drawings).whole();
}

}  // namespace guardband::report
