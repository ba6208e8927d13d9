// Pages of a format: how values read, how few columns say them, what stands behind them, and that they fit a terminal.
#include "report/format_page.h"

#include <gmock/gmock.h>

#include <cmath>
#include <map>
#include <set>

#include "report/fact_text.h"
#include "report/figure_groups.h"
#include "report/figure_page_text.h"
#include "report/format_report.h"
#include "report/system_page.h"
#include "report/system_report.h"
#include "report/text_table.h"
#include "support/made_table.h"

namespace guardband::report {
namespace {

using support::made_format;
using support::made_table;
using table::Fact;
using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;

std::string plain(std::string text) {
    for (std::size_t at = text.find(no_break); at != std::string::npos; at = text.find(no_break, at))
        text.replace(at, no_break.size(), " ");
    return text;
}

/// The value of a fact of the made format, of its mode 625/50 SP where it is of modes.
std::string shown(const char* key, const char* system = "625/50", const char* mode = "SP") {
    const table::Table table = made_table();
    const table::TapeFormat& format = made_format(table);
    for (const table::Facts* facts : {&format.facts, &format.tape, &format.drum})
        if (const Fact* fact = facts->find(key)) return plain(value_text(*fact));
    return plain(value_text(*format.fact_in(*format.find_mode(system, mode), key)));
}

TEST(ValueText, KeepsTheDigitsOfTheSource) {
    EXPECT_EQ(shown("track_pitch"), "49 µm");
    EXPECT_EQ(shown("luma_bandwidth"), "3.0 MHz");
    EXPECT_EQ(shown("luma_snr"), "42–45 dB");
    EXPECT_EQ(shown("heads"), "2");
    EXPECT_EQ(shown("wrap"), "180°");
}

TEST(ValueText, IsInTheUnitOfTheSchema) {
    EXPECT_EQ(shown("tape_speed"), "23.39 mm/s ± 0.5 %") << "centimetres by a shift of the point";
    EXPECT_EQ(shown("width"), "12.7 mm (0.5 in)") << "inches with what is printed behind";
    EXPECT_EQ(shown("drum_speed"), "25 rev/s (1500 rev/min)");
    EXPECT_EQ(shown("colour_under_carrier"), "626.953125 kHz = (40 + 1/8) × line rate") << "Hz in the file";
}

TEST(ValueText, ShowsRatesExactly) {
    EXPECT_EQ(shown("drum_speed", "525/60"), "29.97003 rev/s = 30000/1001");
    EXPECT_EQ(shown("control_track_rate"), "25 Hz = field rate / 2");
}

TEST(ValueText, SaysTolerancesTheShortWay) {
    EXPECT_EQ(shown("diameter"), "62 ± 0.01 mm");
    EXPECT_EQ(shown("thickness"), "20 (12 or more) µm");
    EXPECT_EQ(shown("tape_speed", "525/60"), "33.35 mm/s ± 0.5 %");
}

double leading_number(std::string text) {
    if (text.starts_with("−")) text.replace(0, std::string("−").size(), "-");
    return std::stod(text);
}

TEST(ValueText, TakesEveryFactOfTheTable) {
    const table::Table table = table::load_table();
    int seen = 0;
    const auto look = [&](const table::Facts& facts) {
        for (const Fact& fact : facts.all()) {
            EXPECT_EQ(value_text(fact).empty(), !fact.is_known()) << fact.key;
            EXPECT_TRUE(!fact.is_number() || std::isfinite(leading_number(value_text(fact)))) << fact.key;
            ++seen;
        }
    };
    for (const table::TapeFormat& format : table.formats) {
        look(format.facts), look(format.tape), look(format.drum);
        for (const auto& system : format.systems) look(system.facts);
        for (const auto& mode : format.modes) look(mode.facts);
        for (const auto& grade : format.grades) look(grade.facts);
    }
    EXPECT_GT(seen, 2000);
}

/// The rows of a page by group and title, with the texts of their cells.
std::map<std::string, std::vector<std::string>> rows_of(const FigurePage& page) {
    std::map<std::string, std::vector<std::string>> rows;
    for (const Group& group : page.groups)
        for (const Block& block : group.blocks)
            for (const Row& row : block.rows)
                for (const Cell& cell : row.cells)
                    rows[group.title + ": " + row.title].push_back(plain(cell_text(cell)));
    return rows;
}

TEST(FormatPage, SaysAFigureInAsFewColumnsAsItNeeds) {
    const table::Table table = made_table();
    const auto rows = rows_of(format_page(table, made_format(table)));
    EXPECT_THAT(rows.at("Drum and heads: drum diameter"), ElementsAre("62 ± 0.01 mm [1]")) << "once for all";
    EXPECT_THAT(rows.at("Picture carriers: carrier at white"), ElementsAre("4.4 [M]", "4.8 [1]")) << "once a system";
    EXPECT_THAT(rows.at("Tracks: tape speed"), ElementsAre("33.35 ± 0.5 % [1]", "23.39 ± 0.5 % [1]", "11.7 [M]"));
    EXPECT_THAT(rows.at("Performance when new: luma bandwidth"), ElementsAre("3.0 [1]", "3.0 [1]", "2.5 [M]"))
        << "one mode has its own, so each says its";
    EXPECT_THAT(rows.at("Tracks: writing speed"), ElementsAre("–", "4.85 [1]")) << "a dash where others know";
    EXPECT_THAT(rows.at("Cassette or reel: lamp shell"), ElementsAre("188 [1]", "104 [M]"));
    EXPECT_THAT(rows.at("Lengths: LC-60"), ElementsAre("87–89 [1]", "20 [1]", "60", "120 [1]"))
        << "the minutes of the label need no mark, those of a source do";
}

TEST(FormatPage, KeepsWhatIsNotKnownForTheEnd) {
    const table::Table table = made_table();
    const FigurePage page = format_page(table, made_format(table));
    EXPECT_THAT(page.unknowns, Contains(HasSubstr("(nobody looked)")));
    EXPECT_THAT(page.unknowns, Contains(HasSubstr("coating")));
    EXPECT_THAT(page.unknowns, Contains(HasSubstr("writing speed (525/60 SP)"))) << "where others know it";
    EXPECT_THAT(page.unknowns, Contains("colour recording, colour-under carrier (525/60 SP) (no colour)"));
    for (const auto& [title, cells] : rows_of(page)) EXPECT_NE(title, "Tape: coating");
}

TEST(FormatPage, PutsNotesWhereTheyMatter) {
    const table::Table table = made_table();
    const FigurePage page = format_page(table, made_format(table));
    ASSERT_EQ(page.sources.size(), 2U);
    EXPECT_EQ(page.sources[0].where, "");
    EXPECT_EQ(page.sources[1].where, "page 3");
    EXPECT_EQ(page.sources[1].first, 1U) << "the same source, another place";
    std::vector<std::string> remarks;
    for (const std::string& remark : page.remarks) remarks.push_back(plain(remark));
    EXPECT_THAT(remarks, Contains("about")) << "where to check stands once for the page, not with each figure";
    EXPECT_THAT(remarks, Contains("also 58 µm [M]: that is the other system's"));
    ASSERT_EQ(page.standings.size(), 3U);
    EXPECT_EQ(page.standings[0].meaning, "from memory, to be checked at: the log book");
}

TEST(FormatPage, ShowsEveryKeyOfTheSchemaOnce) {
    std::map<const table::KeyRule*, int> shown_in;
    for (const auto* groups : {&format_groups(), &system_groups()})
        for (const FigureGroup& group : *groups)
            for (const table::KeyRule* rule : group.rules) ++shown_in[rule];
    using enum table::SectionKind;
    const std::set<table::SectionKind> lists{Raster,       Screen,    Shell,    Grade,        Codec, CodecSystem,
                                             CodecPicture, Container, Evidence, TapesAtLarge, Trust};
    for (const table::KeyRule& rule : table::key_rules())
        EXPECT_EQ(shown_in[&rule], lists.contains(rule.section) ? 0 : 1) << rule.key;
    for (const FigureGroup& group : format_groups()) EXPECT_NE(group.title, "Further figures") << "find it a place";
    for (const FigureGroup& group : system_groups()) EXPECT_NE(group.title, "Further figures") << "find it a place";
}

void expect_fits(const std::string& text, const std::string& what) {
    for (std::size_t from = 0; from < text.size();) {
        const std::size_t end = text.find('\n', from);
        const std::string line = text.substr(from, end - from);
        EXPECT_LE(display_width(line), 100U) << what << ": " << line;
        EXPECT_FALSE(line.ends_with(" ")) << what << ": " << line;
        from = end + 1;
    }
}

TEST(Pages, FitATerminalOfAHundredColumns) {
    const table::Table table = table::load_table();
    for (const table::TapeFormat& format : table.formats)
        expect_fits(figure_page_text(format_page(table, format), table.edition), format.id);
    for (const System& system : all_systems(table))
        expect_fits(figure_page_text(system_page(table, system), table.edition), id_of(system));
}

TEST(Lists, FitATerminalOfAHundredColumns) {
    const table::Table table = table::load_table();
    std::vector<const table::TapeFormat*> formats;
    for (const table::TapeFormat& format : table.formats) formats.push_back(&format);
    expect_fits(formats_list_text(table, formats), "formats");
    expect_fits(systems_list_text(table), "systems");
}

TEST(Pages, NameTheEdition) {
    table::Table table = made_table();
    table.edition = {"7.8.9", "2031-02-03", {"/own"}};
    EXPECT_THAT(figure_page_text(format_page(table, made_format(table)), table.edition),
                HasSubstr("\nTable 7.8.9 of 2031-02-03, with the files of /own.\n"));
}

TEST(Pages, CiteOnlyWhatTheyList) {
    const table::Table table = table::load_table();
    for (const table::TapeFormat& format : table.formats) {
        const FigurePage page = format_page(table, format);
        std::set<std::string> used;
        for (const Group& group : page.groups)
            for (const Block& block : group.blocks)
                for (const Row& row : block.rows) {
                    EXPECT_EQ(row.cells.size(), block.columns.size()) << format.id << " " << row.title;
                    for (const Cell& cell : row.cells)
                        for (const Entry& entry : cell)
                            for (const Mark& mark : entry.marks) used.insert(to_string(mark));
                }
        EXPECT_FALSE(used.contains("[" + std::to_string(page.sources.size() + 1) + "]")) << format.id;
        EXPECT_TRUE(page.remarks.empty() || used.contains("(" + remark_letter(page.remarks.size() - 1) + ")"));
        EXPECT_FALSE(used.contains("(" + remark_letter(page.remarks.size()) + ")")) << format.id;
    }
}

TEST(RemarkLetter, CountsOnAfterZ) {
    EXPECT_EQ(remark_letter(0), "a");
    EXPECT_EQ(remark_letter(25), "z");
    EXPECT_EQ(remark_letter(26), "aa");
    EXPECT_EQ(remark_letter(27 * 26), "aaa");
}

}  // namespace
}  // namespace guardband::report
