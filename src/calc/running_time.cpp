#include "calc/running_time.h"

#include <fmt/format.h>

#include <algorithm>

#include "quantity/errors.h"
#include "table/suggestion.h"

namespace guardband::calc {
namespace {

using table::Fact;
using table::Grade;
using table::Mode;
using table::TapeFormat;

Bounded bounded(const Fact& fact, std::string_view unit) {
    return {fact.in(unit), fact.lowest_in(unit), fact.highest_in(unit)};
}

Bounded length_of(const quantity::Quantity& length) {
    const double metres = length.in("m");
    const double spread = length.uncertainty_in(quantity::unit_named("m")).value_or(0);
    return {metres, metres - spread, metres + spread};
}

std::optional<double> published_seconds(const Grade& grade, const Mode& mode) {
    for (const table::PlayingTime& time : grade.playing_times)
        if (time.system == mode.system && time.mode == mode.id && time.time.is_number()) return time.time.in("s");
    return std::nullopt;
}

bool goes_by(const Grade& grade, const std::string& name) {
    return table::same_name(grade.id, name) ||
           std::ranges::any_of(grade.aliases, [&](const std::string& alias) { return table::same_name(alias, name); });
}

bool goes_by(const Mode& mode, const std::string& name) {
    return table::same_name(mode.id, name) ||
           std::ranges::any_of(mode.aliases, [&](const std::string& alias) { return table::same_name(alias, name); });
}

/// Collects rows and remembers what names it has met, for the error when none matched.
class Collection {
public:
    Collection(const table::Table& table, const RunningTimeQuery& query) : table_(table), query_(query) {}

    std::vector<RunningTime> whole() {
        for (const TapeFormat& format : table_.formats)
            if (query_.format == nullptr || query_.format == &format) add_format(format);
        expect_matches();
        return std::move(rows_);
    }

private:
    void add_format(const TapeFormat& format) {
        std::vector<const Mode*> modes;
        for (const Mode& mode : format.modes) {
            if (query_.system != nullptr && mode.system != query_.system->id) continue;
            mode_names_.push_back(mode.id);
            if (!query_.mode || goes_by(mode, *query_.mode)) modes.push_back(&mode);
        }
        any_mode_ = any_mode_ || !modes.empty();
        if (query_.length) {
            for (const Mode* mode : modes) add_row(format, *mode, nullptr, length_of(*query_.length), std::nullopt);
            return;
        }
        for (const table::GradeOfFormat& shared : table_.grades_in(format)) add_grade(format, modes, shared);
    }

    void add_grade(const TapeFormat& format, const std::vector<const Mode*>& modes,
                   const table::GradeOfFormat& shared) {
        const Grade& grade = *shared.grade;
        grade_names_.push_back(grade.id);
        if (query_.grade && !goes_by(grade, *query_.grade)) return;
        any_grade_ = true;
        const Fact* length = grade.facts.known("length");
        if (length == nullptr) return;
        // The label's minutes are those of the owner's modes; a format that only shares the cassette has others under
        // the same names.
        const bool label_holds = table_.is_or_is_based_on(format, *shared.owner);
        for (const Mode* mode : modes)
            add_row(format, *mode, &grade, bounded(*length, "m"),
                    label_holds ? published_seconds(grade, *mode) : std::nullopt);
    }

    void add_row(const TapeFormat& format, const Mode& mode, const Grade* grade, const Bounded& length,
                 std::optional<double> published) {
        const Fact* speed = format.fact_in(mode, "tape_speed");
        if (speed == nullptr) return;
        RunningTime row{&format, &mode, grade, length, bounded(*speed, "mm/s"), {}, published};
        row.seconds = running_time_s(row.length_m, row.speed_mm_s);
        rows_.push_back(row);
    }

    void expect_matches() const {
        const std::string where = query_.format == nullptr ? "" : " in " + query_.format->name;
        if (query_.grade && !any_grade_)
            throw quantity::InputError(
                "--grade " + *query_.grade, "no such cassette or reel" + where,
                table::did_you_mean(*query_.grade, grade_names_, "`guardband formats ID` lists a format's grades"));
        if (query_.mode && !any_mode_)
            throw quantity::InputError(
                "--mode " + *query_.mode, "no such mode" + where,
                table::did_you_mean(*query_.mode, mode_names_, "`guardband formats ID` lists a format's modes"));
    }

    const table::Table& table_;
    const RunningTimeQuery& query_;
    std::vector<RunningTime> rows_;
    std::vector<std::string> grade_names_, mode_names_;
    bool any_grade_ = false, any_mode_ = false;
};

}  // namespace

Bounded running_time_s(const Bounded& length_m, const Bounded& speed_mm_s) {
    if (length_m.low < 0 || length_m.value < 0) throw quantity::DomainError("a tape's length can't be negative");
    if (!(speed_mm_s.low > 0)) throw quantity::DomainError("a tape's speed must be above 0");
    return {length_m.value * 1e3 / speed_mm_s.value, length_m.low * 1e3 / speed_mm_s.high,
            length_m.high * 1e3 / speed_mm_s.low};
}

bool RunningTime::crosses_systems() const {
    return grade != nullptr && !grade->label_system.empty() && grade->label_system != mode->system;
}

Working running_time_working(const RunningTime& row) {
    const auto ends = [](const Bounded& b, const char* unit) {
        return fmt::format("{:g} {} ({:g} to {:g})", b.value, unit, b.low, b.high);
    };
    const std::string name = row.grade == nullptr ? "the tape" : row.grade->id;
    return {{name + " in " + table::address_of(*row.format, *row.mode) + ", the range with both at their worst",
             "t = L / v",
             fmt::format("{:g} m / {:g} mm/s", row.length_m.value, row.speed_mm_s.value),
             fmt::format("{} ({} to {})", quantity::h_mm_ss(row.seconds.value), quantity::h_mm_ss(row.seconds.low),
                         quantity::h_mm_ss(row.seconds.high)),
             {{"L", "length of tape", ends(row.length_m, "m"),
               row.grade == nullptr ? nullptr : row.grade->facts.known("length"), row.grade == nullptr ? "given" : ""},
              {"v", "tape speed", ends(row.speed_mm_s, "mm/s"), row.format->fact_in(*row.mode, "tape_speed")}},
             "plain arithmetic"}};
}

std::vector<RunningTime> running_times(const table::Table& table, const RunningTimeQuery& query) {
    if (query.length && length_of(*query.length).low < 0)
        throw quantity::InputError("--length", "a tape's length can't be negative",
                                   "give metres or feet, such as 246m or 810ft");
    constexpr double longest_m = 1e6;  // more than any reel holds by far
    if (query.length && !(length_of(*query.length).high <= longest_m))
        throw quantity::InputError("--length", "no tape is longer than 1000 km", "give metres or feet, such as 246m");
    return Collection(table, query).whole();
}

}  // namespace guardband::calc
