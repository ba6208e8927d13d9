#include "report/html.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>

namespace guardband::report {
namespace {

/// What a letter for a standing is called, and where the pages explain it.
std::string_view standing_name(std::string_view letter) {
    if (letter == "M") return "from memory";
    return letter == "C" ? "computed" : "common practice";
}

std::string mark_html(const Mark& mark, const std::string& to_top) {
    switch (mark.kind) {
        case Mark::Kind::Source:
            return fmt::format(R"(<a class="mark" href="#source-{0}" aria-label="source {0}">[{0}]</a>)", mark.label);
        case Mark::Kind::Remark:
            return fmt::format(R"(<a class="mark" href="#remark-{0}" aria-label="remark {0}">({0})</a>)", mark.label);
        case Mark::Kind::Standing:
            break;
    }
    const std::string_view name = standing_name(mark.label);
    return fmt::format(R"(<a class="mark" href="{}standings.html#{}" title="{}">[{}]</a>)", to_top, slug(name), name,
                       mark.label);
}

std::string entry_html(const Entry& entry, const std::string& to_top) {
    std::string text = entry.label.empty() ? "" : "<span class=\"quiet\">" + html_text(entry.label) + ":</span> ";
    text += html_text(entry.text);
    for (const Mark& mark : entry.marks) text += mark_html(mark, to_top);
    return text;
}

std::string cell_html(const Cell& cell, bool is_number, const std::string& to_top) {
    if (cell.empty()) return fmt::format("<td class=\"none{}\">–</td>", is_number ? " number" : "");
    std::string text;
    for (const Entry& entry : cell) text += (text.empty() ? "" : "<br>") + entry_html(entry, to_top);
    return fmt::format("<td{}>{}</td>", is_number ? " class=\"number\"" : "", text);
}

std::string title_html(const Row& row) {
    const std::string unit =
        row.unit.empty() ? ""
                         : ", <span class=\"unit\">" + html_text(row.unit == "°" ? "degrees" : row.unit) + "</span>";
    return html_text(row.title) + unit;
}

/// The upper headings, each over as many columns as have it in common.
std::string over_row(const Block& block) {
    if (std::ranges::all_of(block.columns, [](const Column& column) { return column.over.empty(); })) return "";
    std::string row = "<tr><td></td>";
    for (std::size_t i = 0; i < block.columns.size();) {
        std::size_t end = i;
        while (end < block.columns.size() && block.columns[end].over == block.columns[i].over) ++end;
        const std::string& over = block.columns[i].over;
        row += over.empty()
                   ? fmt::format("<td colspan=\"{}\"></td>", end - i)
                   : fmt::format(R"(<th class="over" scope="colgroup" colspan="{}">{}</th>)", end - i, html_text(over));
        i = end;
    }
    return row + "</tr>\n";
}

std::string head_html(const Block& block) {
    if (std::ranges::all_of(block.columns, [](const Column& column) { return column.name.empty(); })) return "";
    std::string row = "<tr><td></td>";
    for (const Column& column : block.columns)
        row += fmt::format(R"(<th scope="col"{}>{}</th>)", column.is_number ? " class=\"number\"" : "",
                           html_text(column.name));
    return "<thead>\n" + over_row(block) + row + "</tr>\n</thead>\n";
}

std::string block_html(const Block& block, const std::string& to_top) {
    std::string text =
        fmt::format("<div class=\"scroll\"><table{}>\n", block.columns.size() == 1 ? " class=\"facts\"" : "") +
        head_html(block) + "<tbody>\n";
    for (const Row& row : block.rows) {
        text += "<tr><th scope=\"row\">" + title_html(row) + "</th>";
        for (std::size_t i = 0; i < row.cells.size(); ++i)
            text += cell_html(row.cells[i], block.columns[i].is_number, to_top);
        text += "</tr>\n";
    }
    return text + "</tbody></table></div>\n";
}

std::string source_html(const PageNotes::CitedSource& cited, std::size_t number, const std::string& to_top) {
    const table::Source& source = *cited.source;
    const std::string place =
        cited.where.empty() ? (cited.first == number ? "" : ", place not noted") : ": " + html_text(cited.where);
    const std::string name = cited.first == number ? html_text(source.title) : fmt::format("as [{}]", cited.first);
    const std::string year =
        cited.first != number || source.year.empty() || source.title.find(source.year) != std::string::npos
            ? ""
            : ", " + source.year;
    return fmt::format(
        "<li id=\"source-{}\"><a href=\"{}sources.html#{}\">{}</a>{}{} <span class=\"seen\">({})</span></li>\n", number,
        to_top, slug(source.id), name, html_text(year), place, html_text(source.seen));
}

std::string navigation_html(const PagePlace& place) {
    constexpr std::array<std::array<std::string_view, 3>, 4> entries{
        {{"formats", "index.html", "Tape formats"},
         {"systems", "systems.html", "TV systems"},
         {"sources", "sources.html", "Sources"},
         {"standings", "standings.html", "How to read it"}}};
    std::string text =
        fmt::format("<a class=\"name\" href=\"{}index.html\">Tape formats and TV systems</a>\n", place.to_top);
    for (const auto& [id, file, name] : entries)
        text += fmt::format("<a href=\"{}{}\"{}>{}</a>\n", place.to_top, file,
                            id == place.current ? " aria-current=\"true\"" : "", name);
    return text;
}

}  // namespace

std::string html_text(std::string_view text) {
    std::string result;
    for (const char c : text) {
        switch (c) {
            case '&':
                result += "&amp;";
                break;
            case '<':
                result += "&lt;";
                break;
            case '>':
                result += "&gt;";
                break;
            case '"':
                result += "&quot;";
                break;
            default:
                result += c;
        }
    }
    return result;
}

std::string slug(std::string_view id) {
    std::string result;
    for (const char c : id) {
        const bool is_plain = std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '.';
        result += is_plain ? static_cast<char>(std::tolower(static_cast<unsigned char>(c))) : '-';
    }
    return result;
}

std::string html_document(const PagePlace& place, const std::string& body, const table::Edition& edition) {
    return fmt::format(R"html(<!DOCTYPE html>
<html lang="en-GB">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="generator" content="guardband formats --html">
<title>{0}</title>
<link rel="stylesheet" href="{1}style.css">
</head>
<body>
<a class="skip" href="#main">To the figures</a>
<header class="site"><nav aria-label="Pages">
{2}</nav></header>
<main id="main">
{3}</main>
<footer><p>{4}. Every figure names its source and how far it can be leaned on: <a href="{1}standings.html">how to read it</a>.</p></footer>
</body>
</html>
)html",
                       html_text(place.title), place.to_top, navigation_html(place), body,
                       html_text(edition_text(edition)));
}

std::string groups_html(const FigurePage& page, const std::string& to_top) {
    std::string text;
    for (const Group& group : page.groups) {
        text += fmt::format("<section aria-labelledby=\"{0}\">\n<h2 id=\"{0}\">{1}</h2>\n", slug(group.title),
                            html_text(group.title));
        for (const Block& block : group.blocks) text += block_html(block, to_top);
        if (!group.remark.empty()) text += "<p class=\"quiet\">" + html_text(group.remark) + "</p>\n";
        text += "</section>\n";
    }
    return text;
}

std::string notes_html(const FigurePage& page, const std::string& to_top) {
    std::string text = "<div class=\"notes\">\n";
    if (!page.unknowns.empty()) {
        text += "<h2 id=\"not-known\">Not known</h2>\n<ul>\n";
        for (const std::string& line : page.unknowns) text += "<li>" + html_text(line) + "</li>\n";
        text += "</ul>\n";
    }
    if (!page.remarks.empty()) {
        text += "<h2 id=\"remarks\">Remarks</h2>\n<ol class=\"remarks\">\n";
        for (std::size_t i = 0; i < page.remarks.size(); ++i)
            text += fmt::format("<li id=\"remark-{}\">{}</li>\n", remark_letter(i), html_text(page.remarks[i]));
        text += "</ol>\n";
    }
    if (!page.sources.empty() || !page.standings.empty()) text += "<h2 id=\"sources\">Sources</h2>\n";
    if (!page.sources.empty()) {
        text += "<ol>\n";
        for (std::size_t i = 0; i < page.sources.size(); ++i) text += source_html(page.sources[i], i + 1, to_top);
        text += "</ol>\n";
    }
    for (const auto& [letter, meaning] : page.standings)
        text += fmt::format("<p>[{}] <a href=\"{}standings.html#{}\">{}</a></p>\n", letter, to_top,
                            slug(standing_name(letter)), html_text(meaning));
    return text + "</div>\n";
}

}  // namespace guardband::report
