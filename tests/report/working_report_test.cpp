#include "report/working_report.h"

#include <gmock/gmock.h>

#include "quantity/errors.h"
#include "support/built_in_table.h"
#include "table/table.h"

namespace guardband::report {
namespace {

using testing::Each;
using testing::HasSubstr;

using support::built_in;

calc::Working example() {
    const table::Fact* width = built_in().format("vhs", "test").tape.known("width");
    return {{"length of tape in the pack",
             "L = π (D² − d²) / 4t",
             "π (88² − 26²) / (4 × 0.0195)",
             "284.6 m",
             {{"D", "diameter of the pack", "88 mm", nullptr, "given"}, {"w", "tape width", "12.65 ± 0.01 mm", width}},
             "plain geometry"}};
}

std::vector<std::size_t> widths_of(const std::string& text) {
    std::vector<std::size_t> widths;
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) {
        std::size_t width = 0;
        for (const char c : line) width += (static_cast<unsigned char>(c) & 0xC0U) != 0x80U;
        widths.push_back(width);
    }
    return widths;
}

TEST(WorkingText, PutsNumbersAndResultUnderTheFormula) {
    const std::string text = working_text(example(), built_in());
    EXPECT_THAT(text, HasSubstr("\nHow it was got\n  length of tape in the pack (plain geometry)\n"
                                "    L = π (D² − d²) / 4t\n"
                                "      = π (88² − 26²) / (4 × 0.0195)\n"
                                "      = 284.6 m\n"));
    EXPECT_THAT(text, HasSubstr("88 mm"));
    EXPECT_THAT(text, HasSubstr("tape width            [1]"));
    EXPECT_THAT(text, HasSubstr("   [1] "));
    EXPECT_THAT(widths_of(text), Each(testing::Le(80U)));
}

TEST(WorkingText, BreaksOriginsThatAreTooLongForThePage) {
    calc::Working working = example();
    working[0].givens.push_back({"A", "bytes of sound a second", "288000 bytes a second", nullptr,
                                 "sampling rate × bits a sample / 8 × channels"});
    const std::string text = working_text(working, built_in());
    EXPECT_THAT(widths_of(text), Each(testing::Le(80U))) << text;
    EXPECT_THAT(text, HasSubstr("\n" + std::string(10, ' '))) << "goes on below";
    for (const char* word : {"sampling", "channels"}) EXPECT_THAT(text, HasSubstr(word));
}

TEST(WorkingText, IsEmptyWithoutSteps) { EXPECT_EQ(working_text({}, built_in()), ""); }

TEST(WorkingJson, NamesTheFactOrTheOrigin) {
    const Json json = working_json(example());
    ASSERT_EQ(json.size(), 1U);
    EXPECT_EQ(json[0]["result"], "284.6 m");
    EXPECT_EQ(json[0]["givens"][0]["origin"], "given");
    EXPECT_EQ(json[0]["givens"][1]["key"], "width");
    EXPECT_EQ(json[0]["givens"][1]["standing"], "published");
}

TEST(CautionsText, FitsATerminalAndDefersToLicensedPractice) {
    std::vector<std::string> ids;
    for (const table::Caution& caution : built_in().cautions) ids.push_back(caution.id);
    const std::string text = cautions_text(built_in(), ids);
    EXPECT_GE(ids.size(), 6U);
    EXPECT_THAT(widths_of(text), Each(testing::Le(80U)));
    EXPECT_THAT(cautions_text(built_in(), {"mains"}), HasSubstr("qualified person"));
    EXPECT_THAT(cautions_text(built_in(), {"picture-tube"}), HasSubstr("licensed"));
    EXPECT_THROW(cautions_text(built_in(), {"dragons"}), quantity::DomainError);
}

}  // namespace
}  // namespace guardband::report
