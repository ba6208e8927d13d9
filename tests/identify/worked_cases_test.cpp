// Worked cases of the trade and from published figures, as data: cases.toml.
#include <gmock/gmock.h>

#include <fstream>
#include <iterator>

#include "identify/answer.h"
#include "identify/built_in_models.h"
#include "table/fields.h"

namespace guardband::identify {
namespace {

using support::built_in;

struct Case {
    std::string name;
    std::vector<std::string> observe, is;
    double at_least = 0.9, at_most = 1;
    std::string verdict = "consistent", suspects, source;
};

std::ostream& operator<<(std::ostream& out, const Case& c) { return out << c.name; }

double share(const std::string& text, double otherwise) {
    return text.empty() ? otherwise
                        : quantity::parse_quantity(text, quantity::unit_named("share"), "share").in("share");
}

Case read_case(const table::Document& document, const table::Node& node) {
    table::Fields fields(document, node, "[[case]]");
    Case c;
    c.name = fields.required_text("name");
    c.observe = fields.texts("observe"), c.is = fields.texts("is");
    c.at_least = share(fields.optional_text("at_least"), 0.9), c.at_most = share(fields.optional_text("at_most"), 1);
    if (const std::string verdict = fields.optional_text("verdict"); !verdict.empty()) c.verdict = verdict;
    c.suspects = fields.optional_text("suspects");
    c.source = fields.required_text("source");
    (void)fields.optional_text("where");
    (void)fields.required_text("standing");
    fields.expect_no_more();
    return c;
}

std::vector<Case> all_cases() {
    const std::string path = GUARDBAND_SOURCE "/tests/identify/cases.toml";
    std::ifstream stream(path);
    const std::string text(std::istreambuf_iterator<char>(stream), {});
    const table::Document document = table::parse_document(path, text);
    std::vector<Case> cases;
    for (const auto& [key, list] : *document.root.as_table())
        for (const table::Node& node : *list.as_array()) cases.push_back(read_case(document, node));
    return cases;
}

class Worked : public testing::TestWithParam<Case> {};

TEST_P(Worked, IsSaidOfIt) {
    const Case& c = GetParam();
    EXPECT_NE(built_in().find_source(c.source), nullptr) << c.source;
    std::vector<Observation> observations;
    for (const std::string& text : c.observe) observations.push_back(parse_observation(built_in(), text));
    const Answer answer = answer_of(models(), Prior(models()), std::move(observations), false);
    double sum = 0;
    for (const Candidate& candidate : answer.candidates)
        for (const std::string& address : c.is)
            if (candidate.model->address == address || candidate.model->address.starts_with(address + ":")) {
                sum += candidate.probability;
                break;
            }
    EXPECT_TRUE(c.is.empty() || sum >= c.at_least)
        << sum << ", first " << answer.candidates[0].model->address << " " << answer.candidates[0].probability;
    EXPECT_LE(answer.candidates[0].probability, c.at_most);
    EXPECT_EQ(to_string(answer.fit.verdict), c.verdict) << "p = " << answer.fit.p_value;
    const bool named = std::ranges::any_of(answer.suspicions, [&](const Suspicion& suspicion) {
        return id_of(answer.observations[suspicion.observation].kind) == c.suspects;
    });
    EXPECT_EQ(named, !c.suspects.empty());
}

std::string test_name(const testing::TestParamInfo<Case>& info) {
    std::string name = info.param.name;
    std::ranges::replace_if(
        name, [](char ch) { return std::isalnum(static_cast<unsigned char>(ch)) == 0; }, '_');
    return name;
}

INSTANTIATE_TEST_SUITE_P(Cases, Worked, testing::ValuesIn(all_cases()), test_name);

TEST(WorkedCases, AreThirtyAtLeast) { EXPECT_GE(all_cases().size(), 30U); }

}  // namespace
}  // namespace guardband::identify
