#include "calc/counter_answer.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "calc/number_text.h"
#include "calc/pack.h"
#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::InputError;
using table::Fact;
using enum PackSize;

constexpr double beyond_share = 0.06;  // by which real tapes may run over their nominal time, as `runtime` allows too

class Answering {
public:
    Answering(const table::Table& table, const CounterQuery& query) : query_(query) {
        if (query.grade && query.format != nullptr) answer_.grade = grade_named(table, *query.format, *query.grade);
    }

    CounterAnswer whole() {
        take_mode();
        for (const PackSize size : {Length, Hub, Thickness}) take(size);
        answer_.known_bend = known_bend();
        answer_.fit = query_.pairs.empty() ? reel_fit() : fit_counter(query_.pairs, weighable_bend());
        if (!query_.pairs.empty()) read_reel_off_fit();
        find_end();
        find_answer();
        answer_.working = working_of(answer_, query_);
        return std::move(answer_);
    }

private:
    void take_mode() {
        answer_.mode = query_.mode;
        if (answer_.mode == nullptr && query_.format != nullptr) {
            answer_.mode = mode_of_label();
            answer_.mode_is_assumed = answer_.mode != nullptr;
        }
        if (answer_.mode != nullptr) answer_.speed = query_.format->fact_in(*answer_.mode, "tape_speed");
    }

    /// The format's only mode, or the first on the system whose minutes the label counts.
    const table::Mode* mode_of_label() const {
        const auto& modes = query_.format->modes;
        if (modes.size() == 1) return &modes.front();
        if (answer_.grade.grade == nullptr || answer_.grade.grade->label_system.empty()) return nullptr;
        const auto mode = std::ranges::find(modes, answer_.grade.grade->label_system, &table::Mode::system);
        return mode == modes.end() ? nullptr : &*mode;
    }

    void take(PackSize size) {
        if (query_.given[size]) {
            if (!(query_.given[size]->value > query_.given[size]->half_width))
                throw InputError(std::string(option_of(size)),
                                 fmt::format("the {} must be above 0, and known better than to nothing", name_of(size)),
                                 fmt::format("give it in {}", unit_of(size)));
            answer_.reel[size] = {*query_.given[size], nullptr};
        } else if (const Fact* fact = pack_fact(size, query_.format, answer_.grade)) {
            answer_.reel[size] = {input_of(*fact, unit_of(size)), fact};
        } else {
            return;
        }
        answer_.is_known[size] = true;
    }

    bool is_supply() const { return query_.reel == CountedReel::Supply; }

    /// Where the counter starts: the bare hub, or the full pack.
    static double start_diameter_mm(bool is_supply, double length_m, double hub_mm, double thickness_um) {
        return is_supply ? pack_outer_mm(length_m, hub_mm, thickness_um) : hub_mm;
    }

    std::vector<std::string> missing() const {
        std::vector<std::string> names;
        if (answer_.speed == nullptr) names.emplace_back("the mode (--address)");
        if (!answer_.is_known[Hub]) names.emplace_back("the diameter of the bare hub (--hub, mm)");
        if (!answer_.is_known[Thickness]) names.emplace_back("the thickness of the tape (--thickness, µm)");
        if (is_supply() && !answer_.is_known[Length])
            names.emplace_back("the length of the tape (--length, m, or --grade)");
        return names;
    }

    template <typename Formula>
    Spread spread(Formula formula) const {
        const bool supply = is_supply();
        return spread_of(
            [&](std::span<const double> x) { return formula(start_diameter_mm(supply, x[0], x[1], x[2]), x[2], x[3]); },
            {answer_.reel[Length].input, answer_.reel[Hub].input, answer_.reel[Thickness].input,
             input_of(*answer_.speed, "mm/s")});
    }

    CounterCurve curve(double counts, double diameter_mm, double thickness_um, double speed_mm_s) const {
        return counter_curve(query_.reel, counts, diameter_mm, thickness_um, speed_mm_s);
    }

    std::optional<Spread> known_bend() const {
        if (!missing().empty()) return std::nullopt;
        return spread([&](double d, double t, double v) { return curve(1, d, t, v).bend_per_s; });
    }

    std::optional<KnownBend> weighable_bend() const {
        if (!answer_.known_bend) {
            const bool can_stand_alone = query_.pairs.size() > 1;
            if (!can_stand_alone)
                throw InputError("counter",
                                 fmt::format("with one --calibrate pair it takes {}", fmt::join(missing(), " and ")),
                                 "give that, or a second pair at another reading");
            return std::nullopt;
        }
        constexpr double least_share = 1e-6;  // a bend given without any uncertainty still has one
        return KnownBend{answer_.known_bend->value, std::max(answer_.known_bend->standard_uncertainty,
                                                             least_share * std::abs(answer_.known_bend->value))};
    }

    /// No pairs: the curve by the reel alone, its covariance from what hub, thickness, speed and length may be off.
    CounterFit reel_fit() {
        if (!answer_.known_bend)
            throw InputError("counter",
                             fmt::format("without a --calibrate pair it takes {}", fmt::join(missing(), " and ")),
                             "give that, or two pairs at different readings");
        answer_.ratio_is_assumed = !query_.counts_per_turn.has_value();
        const double counts = query_.counts_per_turn.value_or(1);
        answer_.counts_per_turn = counts;
        const auto start = [&](double d, double t, double v) { return curve(counts, d, t, v).start_s; };
        const auto bend = [&](double d, double t, double v) { return curve(counts, d, t, v).bend_per_s; };
        const Spread a = spread(start), q = spread(bend);
        // The variance of the sum of both, each over its value, tells their covariance.
        const Spread sum = spread(
            [&](double d, double t, double v) { return start(d, t, v) / a.value + bend(d, t, v) / std::abs(q.value); });
        const double u_a = a.standard_uncertainty / a.value, u_q = q.standard_uncertainty / std::abs(q.value);
        const double covariance = (std::pow(sum.standard_uncertainty, 2) - u_a * u_a - u_q * u_q) / 2;
        return fit_of_reel({a.value, q.value}, std::pow(a.standard_uncertainty, 2),
                           covariance * a.value * std::abs(q.value), std::pow(q.standard_uncertainty, 2));
    }

    /// What the fitted curve says of gears and tape, where the reel's start is known.
    void read_reel_off_fit() {
        const bool can = answer_.speed != nullptr && answer_.is_known[Hub] &&
                         (!is_supply() || (answer_.is_known[Length] && answer_.is_known[Thickness]));
        if (!can) return;
        const double d = start_diameter_mm(is_supply(), answer_.reel[Length].input.value, answer_.reel[Hub].input.value,
                                           answer_.reel[Thickness].input.value);
        const double v = answer_.speed->in("mm/s");
        answer_.counts_per_turn = calc::counts_per_turn(answer_.fit.curve, d, v);
        answer_.fitted_thickness_um = thickness_of_curve_um(answer_.fit.curve, d, v);
    }

    void find_end() {
        if (answer_.speed == nullptr || !answer_.is_known[Length]) return;
        const Spread end = spread_of([](std::span<const double> x) { return x[0] * 1e3 / x[1]; },
                                     {answer_.reel[Length].input, input_of(*answer_.speed, "mm/s")});
        answer_.end_uncertainty_s = end.standard_uncertainty;
        if (end.value > highest_time_s(answer_.fit.curve))
            return;  // the pairs make a tape that is shorter than the grade
        answer_.end = point_at_time(answer_.fit, end.value, 0);
    }

    static double highest_time_s(const CounterCurve& curve) {
        const double highest = highest_reading(curve);
        return std::isfinite(highest) ? counter_time_s(curve, highest) : highest;
    }

    void find_answer() {
        if (query_.reading) {
            const std::string option = "--reading " + significant(query_.reading->value, 7);
            if (query_.reading->value < 0)
                throw InputError(option, "a counter that starts from 0 has no readings below",
                                 "give what it reads, from 0 on");
            expect_on_reel(option, query_.reading->value <= highest_reading(answer_.fit.curve));
            answer_.answer = point_at_reading(answer_.fit, query_.reading->value, query_.reading->half_width);
            expect_on_tape(option, answer_.answer->seconds);
            if (answer_.fit.doubtful && query_.reading->value <= highest_reading(answer_.fit.doubtful->without))
                answer_.answer_without_doubtful = counter_time_s(answer_.fit.doubtful->without, query_.reading->value);
        } else if (query_.time_s) {
            const std::string option = "--time " + quantity::h_mm_ss(query_.time_s->value);
            expect_on_tape(option, query_.time_s->value);
            expect_on_reel(option, query_.time_s->value <= highest_time_s(answer_.fit.curve));
            answer_.answer = point_at_time(answer_.fit, query_.time_s->value, query_.time_s->half_width);
            if (answer_.fit.doubtful && query_.time_s->value <= highest_time_s(answer_.fit.doubtful->without))
                answer_.answer_without_doubtful = counter_reading(answer_.fit.doubtful->without, query_.time_s->value);
        }
    }

    static void expect_on_reel(const std::string& option, bool holds) {
        if (!holds)
            throw InputError(option, "beyond the point where nothing would be left on the supply reel",
                             "check it, and that the counter is driven by that reel");
    }

    void expect_on_tape(const std::string& option, double seconds) const {
        if (!answer_.end || seconds <= answer_.end->seconds * (1 + beyond_share)) return;
        throw InputError(option,
                         fmt::format("beyond the end of the tape, {} at a reading of {:.0f}",
                                     quantity::h_mm_ss(answer_.end->seconds), answer_.end->reading),
                         "check it, the grade, the mode and, if none was calibrated, the counts a turn (--ratio)");
    }

    const CounterQuery& query_;
    CounterAnswer answer_;
};

/// The smallest of these steps of which at most so many go into a range.
double round_step(double range, std::size_t most, std::span<const double> steps) {
    for (const double step : steps)
        if (range / step <= static_cast<double>(most)) return step;
    return steps.back() * std::ceil(range / steps.back() / static_cast<double>(most));
}

constexpr std::array reading_steps{1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0};
constexpr std::array time_steps_s{10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1200.0, 1800.0, 3600.0};

}  // namespace

CounterAnswer answer_of(const table::Table& table, const CounterQuery& query) {
    return Answering(table, query).whole();
}

CounterPoint point_at_reading(const CounterFit& fit, double reading, double half_width) {
    const double uncertainty_s = time_uncertainty_s(fit, reading, half_width);
    const double slope = seconds_per_count(fit.curve, reading);
    return {reading, counter_time_s(fit.curve, reading), slope > 0 ? uncertainty_s / slope : 0, uncertainty_s};
}

CounterPoint point_at_time(const CounterFit& fit, double seconds, double half_width_s) {
    const double reading = counter_reading(fit.curve, seconds);
    const double uncertainty_s =
        std::hypot(curve_uncertainty_s(fit, reading), fit.widening * half_width_s / std::sqrt(3.0));
    const double slope = seconds_per_count(fit.curve, reading);
    return {reading, seconds, slope > 0 ? uncertainty_s / slope : 0, uncertainty_s};
}

CounterCard card_of(const CounterAnswer& answer, const CounterQuery& query, std::size_t most_rows) {
    if (!answer.end && query.pairs.empty())
        throw InputError("--card", "the end of the tape is not known", "give --grade, or --length");
    double end_s = answer.end ? answer.end->seconds : 0;
    if (!answer.end)
        for (const CounterPair& pair : query.pairs) end_s = std::max(end_s, pair.time_s);
    const double end_reading = counter_reading(answer.fit.curve, end_s);
    CounterCard card;
    const double reading_step = round_step(end_reading, most_rows, reading_steps);
    for (int i = 1; i * reading_step <= end_reading; ++i)
        card.by_reading.push_back(point_at_reading(answer.fit, i * reading_step, 0));
    const double time_step = round_step(end_s, most_rows, time_steps_s);
    for (int i = 1; i * time_step <= end_s; ++i) card.by_time.push_back(point_at_time(answer.fit, i * time_step, 0));
    for (std::size_t i = 0; i < card.quality.size(); ++i)
        card.quality[i] = point_at_time(answer.fit, end_s / std::array{4.0, 2.0, 1.0}[i], 0);
    return card;
}

}  // namespace guardband::calc
