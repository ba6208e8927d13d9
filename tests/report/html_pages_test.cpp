// The browsable document: well formed, its links whole, nothing from outside, and no text of a file taken for markup.
#include "report/html_pages.h"

#include <gmock/gmock.h>

#include <cmath>
#include <map>
#include <set>

#include "report/html_lists.h"
#include "support/made_table.h"

namespace guardband::report {
namespace {

using support::made_format;
using support::made_table;
using testing::HasSubstr;
using testing::Not;

const std::vector<PageFile>& all_pages() {
    static const std::vector<PageFile> pages = [] {
        PageDrawings drawings;
        drawings.footprint = [](const table::TapeFormat&, const table::Mode&) { return std::string("<svg/>"); };
        drawings.line = [](const std::string&) { return std::string("<svg/>"); };
        return html_pages(table::load_table(), drawings);
    }();
    return pages;
}

bool is_html(const PageFile& page) { return page.path.ends_with(".html"); }

/// What stands between each `before` and the next `after`. Regular expressions would do, but GCC 12 warns of its own
/// when sanitizers are on.
std::vector<std::string> between(const std::string& text, std::string_view before, std::string_view after) {
    std::vector<std::string> found;
    for (std::size_t at = text.find(before); at != std::string::npos; at = text.find(before, at)) {
        at += before.size();
        const std::size_t end = std::min(text.find(after, at), text.size());
        found.push_back(text.substr(at, end - at));
    }
    return found;
}

/// All tags, without their brackets: `td class="number"`, `/td`.
std::vector<std::string> tags_of(const std::string& html) { return between(html, "<", ">"); }

std::set<std::string> ids_of(const std::string& html) {
    std::set<std::string> ids;
    for (const std::string& id : between(html, " id=\"", "\"")) EXPECT_TRUE(ids.insert(id).second) << "twice: " << id;
    return ids;
}

/// The path that a link leads to from a page.
std::string resolved(const std::string& from, std::string to) {
    std::string folder = from.substr(0, from.rfind('/') == std::string::npos ? 0 : from.rfind('/') + 1);
    for (; to.starts_with("../"); to.erase(0, 3))
        folder = folder.substr(0, folder.find('/') + 1) == folder ? "" : folder;
    return folder + to;
}

TEST(HtmlPages, HaveLinksThatLeadSomewhere) {
    std::map<std::string, std::set<std::string>> ids;
    for (const PageFile& page : all_pages()) {
        EXPECT_FALSE(ids.contains(page.path)) << "two files of one name: " << page.path;
        ids[page.path] = is_html(page) ? ids_of(page.content) : std::set<std::string>{};
    }
    int seen = 0;
    for (const PageFile& page : all_pages()) {
        if (!is_html(page)) continue;
        std::vector<std::string> targets = between(page.content, " href=\"", "\"");
        std::ranges::move(between(page.content, " src=\"", "\""), std::back_inserter(targets));
        for (const std::string& target : targets) {
            if (target.starts_with("http")) continue;
            const std::size_t hash = target.find('#');
            const std::string path = hash == 0 ? page.path : resolved(page.path, target.substr(0, hash));
            ASSERT_TRUE(ids.contains(path)) << page.path << " leads to " << target;
            EXPECT_TRUE(hash == std::string::npos || ids[path].contains(target.substr(hash + 1)))
                << page.path << " leads to " << target;
            ++seen;
        }
    }
    EXPECT_GT(seen, 5000);
}

TEST(HtmlPages, NeedNothingFromOutside) {
    for (const PageFile& page : all_pages()) {
        EXPECT_THAT(page.content, Not(HasSubstr("<script"))) << page.path;
        EXPECT_THAT(page.content, Not(HasSubstr("@import"))) << page.path;
        EXPECT_THAT(page.content, Not(HasSubstr("url("))) << page.path;
        if (page.path == "sources.html")
            continue;  // its links are to be followed by people, and nothing is loaded from them
        EXPECT_THAT(page.content, Not(HasSubstr("http"))) << page.path;
    }
}

/// Goes through the tags of a page and says what does not close.
void expect_well_formed(const PageFile& page) {
    static const std::set<std::string> empty_elements{"meta", "link", "br", "img", "!DOCTYPE"};
    std::vector<std::string> open;
    for (const std::string& tag : tags_of(page.content)) {
        EXPECT_EQ(tag.find('<'), std::string::npos) << page.path << ": " << tag;
        const std::string name = tag.substr(0, tag.find_first_of(" >"));
        if (empty_elements.contains(name)) continue;
        if (!name.starts_with("/")) {
            open.push_back(name);
            continue;
        }
        ASSERT_FALSE(open.empty()) << page.path;
        ASSERT_EQ("/" + open.back(), name) << page.path;
        open.pop_back();
    }
    EXPECT_TRUE(open.empty()) << page.path;
    for (const std::string& text : between(page.content, ">", "<"))
        EXPECT_EQ(text.find('>'), std::string::npos) << page.path << ": " << text;
}

TEST(HtmlPages, AreWellFormed) {
    for (const PageFile& page : all_pages())
        if (is_html(page)) expect_well_formed(page);
}

TEST(HtmlPages, AreForEveryReader) {
    for (const PageFile& page : all_pages()) {
        if (!is_html(page)) continue;
        EXPECT_EQ(between(page.content, "<h1>", "</h1>").size(), 1U) << page.path;
        EXPECT_THAT(page.content, HasSubstr("<html lang=\"en-GB\">")) << page.path;
        EXPECT_THAT(page.content, HasSubstr("name=\"viewport\"")) << page.path;
        EXPECT_THAT(page.content, HasSubstr("<main id=\"main\">")) << page.path;
        for (const std::string& tag : tags_of(page.content)) {
            EXPECT_TRUE(tag != "th" && (!tag.starts_with("th ") || tag.find(" scope=\"") != std::string::npos)) << tag;
            EXPECT_TRUE(!tag.starts_with("img ") || tag.find(" alt=\"D") != std::string::npos) << tag;
            EXPECT_THAT(tag, Not(HasSubstr(" onload="))) << "no scripts by the back door";
        }
    }
}

/// Contrast of two colours by WCAG 2.1, definitions of contrast ratio and relative luminance.
double contrast(const std::string& a, const std::string& b) {
    const auto luminance = [](const std::string& hex) {
        double sum = 0;
        constexpr double weights[] = {0.2126, 0.7152, 0.0722};
        for (std::size_t i = 0; i < 3; ++i) {
            const double share = std::stoi(hex.substr(2 * i, 2), nullptr, 16) / 255.0;
            sum += weights[i] * (share <= 0.03928 ? share / 12.92 : std::pow((share + 0.055) / 1.055, 2.4));
        }
        return sum;
    };
    const double first = luminance(a), second = luminance(b);
    return (std::max(first, second) + 0.05) / (std::min(first, second) + 0.05);
}

TEST(StyleSheet, HasContrastInBothPalettes) {
    const std::string css(style_sheet());
    const auto palette = [&](const char* name) {
        auto colours = between(css, std::string(name) + ": #", ";");
        std::erase_if(colours,
                      [](const std::string& colour) { return colour.size() != 6; });  // the printer's are short
        return colours;
    };
    const auto papers = palette("--paper");
    ASSERT_EQ(papers.size(), 2U) << "light and dark";
    for (const char* name : {"--ink", "--quiet", "--link", "--mark"}) {
        const auto colours = palette(name);
        ASSERT_EQ(colours.size(), 2U) << name;
        // Source: WCAG 2.1, success criterion 1.4.3: at least 4.5 for text.
        for (std::size_t i = 0; i < 2; ++i) EXPECT_GE(contrast(colours[i], papers[i]), 4.5) << name;
    }
    EXPECT_THAT(css, HasSubstr("prefers-color-scheme: dark"));
    EXPECT_THAT(css, HasSubstr("@media print"));
}

const PageFile& page_named(const std::vector<PageFile>& pages, const std::string& path) {
    return *std::ranges::find(pages, path, &PageFile::path);
}

TEST(HtmlPages, TakeNoTextOfAFileForMarkup) {
    const auto pages = html_pages(made_table());
    const std::string& page = page_named(pages, "formats/lamp.html").content;
    EXPECT_THAT(page, HasSubstr("<h1>Lamp &lt;cassette&gt; &amp; reel</h1>"));
    EXPECT_THAT(page, HasSubstr("none, &lt;invented&gt;"));
    EXPECT_THAT(page, HasSubstr("&quot;1981&quot; &amp; &lt;later&gt;"));
    for (const PageFile& each : pages)
        if (is_html(each)) expect_well_formed(each);
}

TEST(HtmlPages, KeepFilesApartAndInTheirFolder) {
    table::Table table = made_table();
    table::TapeFormat other = made_format(table);
    for (const char* id : {"LAMP", "../../lamp", "la/mp", ".."}) {
        other.id = id;
        table.formats.push_back(other);
    }
    std::set<std::string> paths;
    for (const PageFile& page : html_pages(table)) {
        EXPECT_TRUE(paths.insert(page.path).second) << page.path;
        EXPECT_THAT(page.path, Not(HasSubstr("../")));
        EXPECT_FALSE(page.path.starts_with("/") || page.path.starts_with("."));
    }
}

TEST(HtmlPages, LinkOnlyToTheWeb) {
    table::Table table = made_table();
    for (table::Source& source : table.sources)
        if (source.id == "lamp-log") source.link = "javascript:alert(1)";
    EXPECT_THAT(page_named(html_pages(table), "sources.html").content, Not(HasSubstr("javascript:")));
}

TEST(HtmlPages, CountWhatTheFiguresStandOn) {
    const table::Table table = made_table();
    const auto counts = figures_by_standing(made_format(table));
    EXPECT_EQ(counts[0], 0) << "standard";
    EXPECT_EQ(counts[2], 1) << "computed: the colour-under carrier";
    EXPECT_EQ(counts[3], 2) << "common practice: the signal and the minutes of the label";
}

}  // namespace
}  // namespace guardband::report
