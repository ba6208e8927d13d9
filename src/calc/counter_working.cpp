#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "calc/counter_answer.h"
#include "calc/number_text.h"
#include "quantity/quantity.h"

namespace guardband::calc {
namespace {

using enum PackSize;

constexpr int digits = 5;  // of numbers put into a formula

/// Writes the steps of one answer.
class Writing {
public:
    Writing(const CounterAnswer& answer, const CounterQuery& query) : answer_(answer), query_(query) {}

    Working whole() {
        if (answer_.known_bend && answer_.fit.uses_known_bend) add_bend();
        if (query_.pairs.empty())
            add_start();
        else
            add_fit();
        if (answer_.answer) add_answer(*answer_.answer);
        return std::move(steps_);
    }

private:
    bool is_supply() const { return query_.reel == CountedReel::Supply; }
    const Input& of(PackSize size) const { return answer_.reel[size].input; }

    Given given(const char* symbol, PackSize size) const {
        const auto& [input, fact] = answer_.reel[size];
        return {symbol, std::string(name_of(size)), with_uncertainty(input.value, input.half_width, unit_of(size)),
                fact, fact == nullptr ? "given" : ""};
    }

    /// q = t v / (π d²), on a supply reel with the area of the full pack, π D² = π d² + 4 L t.
    void add_bend() {
        const std::string d = significant(of(Hub).value, digits), t = significant(of(Thickness).value / 1e3, digits),
                          v = significant(answer_.speed->in("mm/s"), digits);
        Step step{"bend of the curve, from hub, thickness and speed", "q = t v / (π d²)",
                  fmt::format("{} × {} / (π × {}²)", t, v, d), bend_text(*answer_.known_bend)};
        step.givens = {given("d", Hub), given("t", Thickness), {"v", "tape speed", speed_text(), answer_.speed}};
        step.source = "plain geometry: L = π n (d + n t) in n turns; lengths in mm";
        if (is_supply()) {
            step.formula = "q = −t v / (π d² + 4 L t)";
            step.numbers = fmt::format("−{} × {} / (π × {}² + 4 × {} × {})", t, v, d,
                                       significant(of(Length).value * 1e3, digits), t);
            step.givens.push_back(given("L", Length));
        }
        steps_.push_back(std::move(step));
    }

    std::string speed_text() const {
        const Input speed = input_of(*answer_.speed, "mm/s");
        return with_uncertainty(speed.value, speed.half_width, "mm/s");
    }

    static std::string bend_text(const Spread& bend) {
        return "(" + with_uncertainty(bend.value * 1e6, bend.standard_uncertainty * 1e6, "") + ") × 10⁻⁶ / s";
    }

    std::string start_text() const {
        return with_uncertainty(answer_.fit.curve.start_s, std::sqrt(answer_.fit.start_variance), "s a count");
    }

    void add_start() {
        const double d = query_.reel == CountedReel::TakeUp
                             ? of(Hub).value
                             : std::sqrt(of(Hub).value * of(Hub).value +
                                         4 / std::numbers::pi * of(Length).value * of(Thickness).value);
        steps_.push_back(
            {"time of the first count",
             "a = π d / (k v)",
             fmt::format("π × {} / ({} × {})", significant(d, digits), significant(*answer_.counts_per_turn, digits),
                         significant(answer_.speed->in("mm/s"), digits)),
             start_text(),
             {{"k", "counts a turn of the reel", significant(*answer_.counts_per_turn, digits), nullptr,
               answer_.ratio_is_assumed ? "assumed: the counter counts turns" : "given"}},
             "plain geometry"});
    }

    void add_fit() {
        const CounterFit& fit = answer_.fit;
        Step step{
            "curve through the pairs", "a, q = least squares of T − (a N + q a² N²)",
            fmt::format("{} pair{}{}; {} degrees of freedom; roundings widened × {}", query_.pairs.size(),
                        query_.pairs.size() == 1 ? "" : "s", fit.uses_known_bend ? " and the known q" : "",
                        fit.degrees_of_freedom, fit.degrees_of_freedom == 1 ? "" : "s", significant(fit.widening, 3)),
            fmt::format("{}, {}", start_text(), bend_text({fit.curve.bend_per_s, 0, std::sqrt(fit.bend_variance)}))};
        step.source = "weighted by rounding; widened by √(χ²/ν) with Student's factor, JCGM 100";
        for (std::size_t i = 0; i < query_.pairs.size(); ++i)
            step.givens.push_back({fmt::format("N = {}", significant(query_.pairs[i].reading, 7)),
                                   fmt::format("off the curve by {:.1f} s", fit.residuals_s[i]),
                                   "T = " + quantity::h_mm_ss(query_.pairs[i].time_s), nullptr, "given"});
        steps_.push_back(std::move(step));
    }

    void add_answer(const CounterPoint& point) {
        const CounterCurve& curve = answer_.fit.curve;
        const std::string a = significant(curve.start_s, digits),
                          q = significant(curve.bend_per_s * 1e6, digits) + " × 10⁻⁶";
        if (query_.reading)
            steps_.push_back({"time at the reading",
                              "T = x + q x², x = a N",
                              fmt::format("x {} {} x², x = {} × {}", curve.bend_per_s < 0 ? "−" : "+",
                                          significant(std::abs(curve.bend_per_s) * 1e6, digits) + " × 10⁻⁶", a,
                                          significant(point.reading, 7)),
                              time_with_uncertainty(point.seconds, point.seconds_uncertainty),
                              {},
                              ""});
        else
            steps_.push_back(
                {"reading at the time",
                 "N = 2 T / a (1 + √(1 + 4 q T))",
                 fmt::format("2 × {0} / {1} (1 + √(1 + 4 × {2} × {0}))", significant(point.seconds, 7), a, q),
                 with_uncertainty(point.reading, point.reading_uncertainty, ""),
                 {},
                 ""});
    }

    const CounterAnswer& answer_;
    const CounterQuery& query_;
    Working steps_;
};

}  // namespace

Working working_of(const CounterAnswer& answer, const CounterQuery& query) { return Writing(answer, query).whole(); }

}  // namespace guardband::calc
