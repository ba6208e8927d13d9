#include "report/drawing/counter_card.h"

#include <gmock/gmock.h>

#include "report/counter_report.h"
#include "support/built_in_table.h"
#include "support/drawing_check.h"
#include "support/svg_reader.h"

namespace guardband::report {
namespace {

using testing::Contains;
using testing::HasSubstr;
using testing::IsEmpty;

using support::built_in;

struct Made {
    calc::CounterAnswer answer;
    std::string svg;
};

Made card_of_grade(const table::TapeFormat& format, const std::string& grade) {
    calc::CounterQuery query;
    query.format = &format, query.grade = grade;
    query.mode = &format.modes.front();
    query.given[calc::PackSize::Hub] = calc::Input{26, 0.5};
    Made made{calc::answer_of(built_in(), query), {}};
    const calc::CounterCard card = calc::card_of(made.answer, query, drawing::card_rows);
    made.svg = counter_card_drawing(made.answer, query, card, built_in()).svg;
    return made;
}

TEST(CounterCard, IsReadableForEveryGrade) {
    int cards = 0;
    for (const table::TapeFormat& format : built_in().formats)
        for (const table::Grade& grade : format.grades) {
            if (!grade.facts.known("length") ||
                !calc::pack_fact(calc::PackSize::Thickness, &format, {&format, &grade}) ||
                !format.fact_in(format.modes.front(), "tape_speed"))
                continue;
            SCOPED_TRACE(format.id + " " + grade.id);
            const auto drawing = support::read_svg(card_of_grade(format, grade.id).svg);
            EXPECT_THAT(support::faults_of_words(drawing), IsEmpty());
            ++cards;
        }
    EXPECT_GT(cards, 80);
}

TEST(CounterCard, SaysWhatItIsOf) {
    const std::string svg = card_of_grade(built_in().format("vhs", "test"), "E-180").svg;
    EXPECT_THAT(svg, HasSubstr("width=\"148mm\" height=\"105mm\""));
    const auto words = support::texts_of(support::read_svg(svg));
    EXPECT_THAT(words, Contains("Counter and time: VHS, E-180, 525/60 SP"));
    EXPECT_THAT(words, Contains("0:05:00"));
    EXPECT_THAT(words, Contains(HasSubstr("Not calibrated: 1 count a turn of the take-up reel.")));
    EXPECT_THAT(words, Contains(HasSubstr("Good to ± ")));
}

}  // namespace
}  // namespace guardband::report
