// Worked examples as data: what a source prints against what the engine works out. A failure names its source.
#include <gmock/gmock.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "calc/running_time.h"
#include "table/fact_reader.h"

namespace guardband {
namespace {

namespace fs = std::filesystem;
using quantity::Rational;

const table::Table& built_in() {
    static const table::Table table = table::load_table();
    return table;
}

class NoNames : public quantity::Names {
    Rational value(std::string_view name) const override { throw quantity::InputError(std::string(name), "not known here"); }
};

struct Check {
    std::string label, what;
    std::string address, grade;         // running_time; rate
    std::string id, key, times;         // rate
    std::string expect, exact, unit;
    std::string allow, below, above;
    std::string source, where, standing, note;
};

std::ostream& operator<<(std::ostream& out, const Check& c) { return out << c.label; }

Check read_check(const table::Document& document, const table::Node& node) {
    table::Fields fields(document, node, "[[check]]");
    Check c;
    c.label = fs::path(document.file).stem().string() + "_line_" + std::to_string(node.line);
    c.what = fields.required_text("what");
    const table::Node* given = fields.child("given");
    if (given == nullptr) throw fields.error("", "has no given");
    table::Fields g(document, *given, "given");
    c.address = g.optional_text("address"), c.grade = g.optional_text("grade");
    c.id = g.optional_text("id"), c.key = g.optional_text("key"), c.times = g.optional_text("times");
    g.expect_no_more();
    c.expect = fields.optional_text("expect"), c.exact = fields.optional_text("exact"), c.unit = fields.optional_text("unit");
    c.allow = fields.optional_text("allow"), c.below = fields.optional_text("below"), c.above = fields.optional_text("above");
    c.source = fields.required_text("source"), c.where = fields.optional_text("where");
    c.standing = fields.required_text("standing"), c.note = fields.optional_text("note");
    fields.expect_no_more();
    return c;
}

std::vector<Check> all_checks() {
    std::vector<Check> checks;
    for (const fs::directory_entry& entry : fs::directory_iterator(GUARDBAND_PUBLISHED)) {
        if (entry.path().extension() != ".toml") continue;
        std::ifstream stream(entry.path());
        std::ostringstream text;
        text << stream.rdbuf();
        const table::Document document = table::parse_document(entry.path().string(), text.str());
        for (const auto& [key, list] : *document.root.as_table())
            for (const table::Node& node : *list.as_array()) checks.push_back(read_check(document, node));
    }
    return checks;
}

template <typename Entry>
const table::Fact* fact_of(const std::vector<Entry>& entries, const Check& c) {
    const auto found = std::ranges::find(entries, c.id, &Entry::id);
    return found == entries.end() ? nullptr : found->facts.known(c.key);
}

/// The fact that `given` names: of a mode by its address, or of a scanning standard, colour or transmission system by its id.
const table::Fact* named_fact(const Check& c) {
    if (!c.address.empty()) {
        const auto [format, mode] = built_in().at(c.address, c.label);
        return format->fact_in(*mode, c.key);
    }
    if (const table::Fact* fact = fact_of(built_in().scannings, c)) return fact;
    if (const table::Fact* fact = fact_of(built_in().colours, c)) return fact;
    return fact_of(built_in().transmissions, c);
}

double allowance(const Check& c) {
    if (c.allow == "rounding") return quantity::half_last_digit(c.expect) * (1 + 1e-9);
    return c.allow == "0" || c.allow.empty() ? 0 : quantity::parse_quantity(c.allow, quantity::unit_named(c.unit), "allow").in(c.unit);
}

void check_rate(const Check& c) {
    const table::Fact* fact = named_fact(c);
    ASSERT_NE(fact, nullptr) << c.id << c.address << " " << c.key;
    if (!c.exact.empty()) {
        ASSERT_TRUE(fact->exact) << "the table has no exact value";
        const Rational times = c.times.empty() ? Rational(1) : quantity::evaluate(c.times, NoNames{});
        const Rational in_unit = Rational(static_cast<std::int64_t>(std::llround(quantity::unit_named(c.unit).to_base)));
        EXPECT_EQ(*fact->exact * times, quantity::evaluate(c.exact, NoNames{}) * in_unit);
        return;
    }
    const double times = c.times.empty() ? 1 : quantity::evaluate(c.times, NoNames{}).value();
    const double expected = std::stod(c.expect);
    EXPECT_NEAR(fact->in(c.unit) * times, expected, allowance(c) + 1e-12 * expected);
}

double share(const std::string& text) { return text == "0" ? 0 : quantity::parse_quantity(text, quantity::unit_named("share"), "share").in("share"); }

/// A cassette must run at least the time on its label, and not far beyond it.
void check_running_time(const Check& c) {
    const auto [format, mode] = built_in().at(c.address, c.label);
    calc::RunningTimeQuery query;
    query.format = format, query.grade = c.grade, query.mode = mode->id, query.system = &built_in().scanning(mode->system, "test");
    const auto rows = calc::running_times(built_in(), query);
    ASSERT_EQ(rows.size(), 1U);
    const double nominal_s = quantity::parse_quantity(c.expect, quantity::unit_named(c.unit), "expect").in("s");
    EXPECT_GE(rows[0].seconds.value, nominal_s * (1 - share(c.below)));
    EXPECT_LE(rows[0].seconds.value, nominal_s * (1 + share(c.above)));
}

class Published : public testing::TestWithParam<Check> {};

TEST_P(Published, Holds) {
    const Check& c = GetParam();
    SCOPED_TRACE(c.what + ", source " + c.source + " " + c.where + " (" + c.standing + ") " + c.note);
    EXPECT_NE(built_in().find_source(c.source), nullptr) << "cites an unknown source";
    if (c.what == "rate") check_rate(c);
    else if (c.what == "running_time") check_running_time(c);
    else FAIL() << "no way to work out " << c.what;
}

std::string test_name(const testing::TestParamInfo<Check>& test) {
    std::string name = test.param.label;
    std::ranges::replace(name, '-', '_');
    return name;
}

INSTANTIATE_TEST_SUITE_P(Checks, Published, testing::ValuesIn(all_checks()), test_name);

TEST(PublishedRunningTimes, AreEnough) {
    int published = 0;
    for (const Check& c : all_checks()) published += c.what == "running_time" && c.standing == "published" ? 1 : 0;
    EXPECT_GE(published, 20);
}

}  // namespace
}  // namespace guardband
