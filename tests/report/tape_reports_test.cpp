// What `pack` and `counter` print, for every cassette and reel of the table.
#include <gmock/gmock.h>

#include <sstream>

#include "report/counter_report.h"
#include "report/pack_report.h"
#include "report/text_table.h"
#include "support/built_in_table.h"

namespace guardband::report {
namespace {

using testing::HasSubstr;
using testing::Not;

using support::built_in;

std::size_t widest_line(const std::string& text) {
    std::istringstream lines(text);
    std::size_t widest = 0;
    for (std::string line; std::getline(lines, line);) widest = std::max(widest, display_width(line));
    return widest;
}

/// Calls `see` for every grade whose length, thickness and first mode's speed are known.
template <typename See>
void for_each_tape(See see) {
    for (const table::TapeFormat& format : built_in().formats)
        for (const table::Grade& grade : format.grades)
            if (grade.facts.known("length") && pack_fact(calc::PackSize::Thickness, &format, {&format, &grade}) &&
                format.fact_in(format.modes.front(), "tape_speed"))
                see(format, grade);
}

TEST(PackReport, Fits80ColumnsForEveryTape) {
    int seen = 0;
    for_each_tape([&](const table::TapeFormat& format, const table::Grade& grade) {
        calc::PackQuery query;
        query.format = &format, query.grade = grade.id;
        query.given[calc::PackSize::Hub] = calc::Input{26, 0.5};
        for (const bool is_part : {false, true}) {
            if (is_part) query.given[calc::PackSize::Outer] = calc::Input{40, 0.5}, query.mode = &format.modes.front();
            const std::string text = pack_text(answer_of(built_in(), query), query, built_in(), true);
            EXPECT_LE(widest_line(text), 80U) << text;
            EXPECT_THAT(text, Not(HasSubstr("nan")));
            ++seen;
        }
    });
    EXPECT_GT(seen, 150);
}

TEST(CounterReport, Fits80ColumnsForEveryTape) {
    int seen = 0;
    for_each_tape([&](const table::TapeFormat& format, const table::Grade& grade) {
        calc::CounterQuery query;
        query.format = &format, query.grade = grade.id, query.mode = &format.modes.front();
        query.given[calc::PackSize::Hub] = calc::Input{26, 0.5};
        for (const auto& pairs :
             {std::vector<calc::CounterPair>{},
              std::vector<calc::CounterPair>{{100, 0.5, 300, 0.5}, {150, 0.5, 510, 0.5}, {300, 0.5, 1200, 0.5}}}) {
            query.pairs = pairs;
            const calc::CounterAnswer answer = answer_of(built_in(), query);
            const calc::CounterCard card = card_of(answer, query, 40);
            const std::string text = counter_text(answer, query, &card, built_in(), true);
            EXPECT_LE(widest_line(text), 80U) << text;
            EXPECT_THAT(text, Not(HasSubstr("nan")));
            ++seen;
        }
    });
    EXPECT_GT(seen, 150);
}

}  // namespace
}  // namespace guardband::report
