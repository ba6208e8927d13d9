#include "calc/pack_answer.h"

#include <fmt/format.h>

#include <algorithm>
#include <functional>

#include "calc/number_text.h"
#include "calc/pack.h"
#include "calc/running_time.h"
#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::InputError;
using table::Fact;
using enum PackSize;

double seconds_of(double length_m, double speed_mm_s) { return length_m * 1e3 / speed_mm_s; }

/// The figures that everything else is worked out from.
struct State {
    PerSize<double> sizes;
    double speed_mm_s = 0;
    double grade_m = 0;  ///< tape of the grade; 0 where only this reel counts
    double at_s = 0;

    double whole_m() const { return grade_m > 0 ? grade_m : sizes[Length]; }
    double outer_mm(double length_m) const {
        return pack_outer_mm(std::max(0.0, length_m), hub_mm(), sizes[Thickness]);
    }
    double hub_mm() const {
        constexpr double least_mm = 1e-3;  // where the estimate of uncertainty shrinks a hub to nothing
        return std::max(least_mm, sizes[Hub]);
    }
};

/// Works figures out of the sizes and moves each by its uncertainty.
class Estimate {
public:
    using Formula = std::function<double(const State&)>;

    explicit Estimate(const ResolvedPack& pack) : found_(pack.found) {
        for (const PackSize size : all_pack_sizes) inputs_.push_back(pack.figures[size].input);
        inputs_.resize(inputs_.size() + 3);
    }

    void set_speed(const Input& mm_s) { inputs_[4] = mm_s; }
    void set_grade_length(const Input& m) { inputs_[5] = m; }
    void set_at(const Input& s) { inputs_[6] = s; }

    Spread operator()(const Formula& formula) const {
        const PackSize found = found_;
        return spread_of(
            [&formula, found](std::span<const double> x) {
                State state;
                for (std::size_t i = 0; i < all_pack_sizes.size(); ++i) state.sizes[all_pack_sizes[i]] = x[i];
                state.sizes = solved_nearby(found, state.sizes);
                state.speed_mm_s = x[4], state.grade_m = x[5], state.at_s = x[6];
                return formula(state);
            },
            inputs_);
    }

private:
    PackSize found_;
    std::vector<Input> inputs_;
};

class Answering {
public:
    Answering(const table::Table& table, const PackQuery& query)
        : query_(query), answer_{resolve(table, query)}, estimate_(answer_.pack) {}

    PackAnswer whole() {
        solved(answer_.pack);  // throws if there is no such pack
        for (const PackSize size : all_pack_sizes)
            answer_.sizes[size] = estimate_([size](const State& s) { return s.sizes[size]; });
        answer_.turns = estimate_([](const State& s) {
            return turns_of_length(std::max(0.0, s.sizes[Length]), s.hub_mm(), s.sizes[Thickness]);
        });
        if (length_of_grade() != nullptr && is_measured_part()) add_other_reel();
        answer_.whole_m = estimate_([](const State& s) { return s.whole_m(); });
        answer_.full_mm = estimate_([](const State& s) { return s.outer_mm(s.whole_m()); });
        answer_.rewinding = rewinding();
        add_times();
        add_points();
        if (answer_.pack.grade.grade != nullptr) answer_.shell = shell_check();
        answer_.working = working_of(answer_, query_);
        return std::move(answer_);
    }

private:
    const Fact* length_of_grade() const { return pack_fact(Length, query_.format, answer_.pack.grade); }
    bool is_measured_part() const { return answer_.pack.found == Length; }

    void add_other_reel() {
        const Input whole = input_of(*length_of_grade(), "m");
        estimate_.set_grade_length(whole);
        answer_.other_m = estimate_([](const State& s) { return s.grade_m - s.sizes[Length]; });
        // A pack that holds more than the grade is a contradiction, which the report tells; the reel itself is then
        // the whole tape.
        if (answer_.other_m->value < 0) estimate_.set_grade_length({});
    }

    Rewinding rewinding() const {
        const auto ratio = [](const State& s) { return s.outer_mm(s.whole_m()) / s.outer_mm(0); };
        return {estimate_(ratio), estimate_([ratio](const State& s) { return ratio(s) * ratio(s); })};
    }

    void add_times() {
        if (query_.format == nullptr) return;
        for (const table::Mode& mode : query_.format->modes) {
            if (query_.mode != nullptr && query_.mode != &mode) continue;
            if (const Fact* speed = query_.format->fact_in(mode, "tape_speed"))
                answer_.times.push_back(time(mode, *speed));
        }
        if (query_.mode != nullptr && answer_.times.empty())
            throw InputError("--address " + address_of(*query_.format, *query_.mode),
                             "the table has no tape speed of it", "name another mode, or leave --address out");
    }

    PackTime time(const table::Mode& mode, const Fact& speed) {
        estimate_.set_speed(input_of(speed, "mm/s"));
        PackTime time{&mode, &speed};
        time.seconds = estimate_([](const State& s) { return seconds_of(s.sizes[Length], s.speed_mm_s); });
        time.turn_full_s =
            estimate_([](const State& s) { return 1 / reel_turns_per_s(s.outer_mm(s.whole_m()), s.speed_mm_s); });
        time.turn_empty_s = estimate_([](const State& s) { return 1 / reel_turns_per_s(s.outer_mm(0), s.speed_mm_s); });
        if (answer_.other_m && answer_.other_m->value >= 0)
            time.other_seconds =
                estimate_([](const State& s) { return seconds_of(s.grade_m - s.sizes[Length], s.speed_mm_s); });
        return time;
    }

    void add_points() {
        if (query_.at_s && query_.mode == nullptr)
            throw InputError("--at", "a time needs a mode, whose tape speed turns it into a place on the tape",
                             "name it with --address, such as vhs:625/50:SP");
        if (query_.mode == nullptr) return;
        if (query_.at_s) return add_asked_point();
        const auto share = [](double part) { return [part](const State& s) { return part * s.whole_m(); }; };
        answer_.points = {point("start", share(0)), point("middle", share(0.5)), point("end", share(1))};
    }

    void add_asked_point() {
        const Spread whole_s = estimate_([](const State& s) { return seconds_of(s.whole_m(), s.speed_mm_s); });
        if (query_.at_s->value < 0 || query_.at_s->value > whole_s.value)
            throw InputError("--at " + quantity::h_mm_ss(query_.at_s->value),
                             "not on this tape, which ends at " + quantity::h_mm_ss(whole_s.value),
                             "give the time since its start");
        estimate_.set_at(*query_.at_s);
        answer_.points = {
            point(quantity::h_mm_ss(query_.at_s->value), [](const State& s) { return s.at_s * s.speed_mm_s / 1e3; })};
    }

    /// @param wound_m  tape on the take-up reel
    ReelPoint point(const std::string& name, const Estimate::Formula& wound_m) const {
        const Estimate::Formula left_m = [&](const State& s) { return s.whole_m() - wound_m(s); };
        return {name, estimate_([&](const State& s) { return seconds_of(wound_m(s), s.speed_mm_s); }),
                estimate_([&](const State& s) { return seconds_of(left_m(s), s.speed_mm_s); }), reel(wound_m),
                reel(left_m)};
    }

    ReelState reel(const Estimate::Formula& length_m) const {
        const auto rate = [&](const State& s) { return reel_turns_per_s(s.outer_mm(length_m(s)), s.speed_mm_s); };
        return {estimate_([&](const State& s) { return s.outer_mm(length_m(s)); }), estimate_(rate),
                estimate_([&](const State& s) { return 1 / (rate(s) * query_.pulses_per_turn); })};
    }

    /// The whole tape in the shell of its grade.
    ShellCheck shell_check() const {
        const auto& [owner, grade] = answer_.pack.grade;
        ShellCheck check{shell_of(*owner, *grade)};
        check.room = room_in(*owner, check.shell);
        if (!check.room) {
            check.missing = "the table lacks the size of its shell";
            return check;
        }
        const auto fit = [&](const State& s) {
            return fit_in(*check.room, s.whole_m(), s.hub_mm(), s.sizes[Thickness]);
        };
        const Spread needed = estimate_([&](const State& s) { return fit(s).needed_mm; });
        check.needed_uncertainty_mm = needed.standard_uncertainty;
        check.fit =
            fit_in(*check.room, answer_.whole_m.value, answer_.sizes[Hub].value, answer_.sizes[Thickness].value);
        return check;
    }

    const PackQuery& query_;
    PackAnswer answer_;
    Estimate estimate_;
};

}  // namespace

PackAnswer answer_of(const table::Table& table, const PackQuery& query) { return Answering(table, query).whole(); }

}  // namespace guardband::calc
