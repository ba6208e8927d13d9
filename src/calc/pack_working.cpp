#include <fmt/format.h>

#include "calc/number_text.h"
#include "calc/pack_answer.h"
#include "quantity/quantity.h"

namespace guardband::calc {
namespace {

using enum PackSize;

constexpr int digits = 5;  // of numbers put into a formula: more than any input has

std::string_view symbol_of(PackSize size) {
    constexpr std::string_view symbols[] = {"L", "D", "d", "t"};
    return symbols[static_cast<std::size_t>(size)];
}

std::string tolerance_text(const Input& input, std::string_view unit) {
    return with_uncertainty(input.value, input.half_width, unit);
}

/// Writes the steps of one answer.
class Writing {
public:
    Writing(const PackAnswer& answer, const PackQuery& query) : answer_(answer), query_(query) {}

    Working whole() {
        add_found();
        add_turns();
        if (!answer_.times.empty()) add_time(answer_.times.front());
        add_rewinding();
        if (answer_.shell && answer_.shell->fit) add_shell(*answer_.shell);
        return std::move(steps_);
    }

private:
    /// A size in mm, as the formulas take it.
    std::string mm(PackSize size) const {
        const double factor = size == Length ? 1e3 : size == Thickness ? 1e-3 : 1;
        return significant(answer_.sizes[size].value * factor, digits);
    }

    std::string text(PackSize size) const { return with_uncertainty(answer_.sizes[size], unit_of(size)); }

    std::vector<Given> givens() const {
        std::vector<Given> list;
        for (const PackSize size : all_pack_sizes) {
            if (size == answer_.pack.found) continue;
            const auto& [input, fact] = answer_.pack.figures[size];
            list.push_back({std::string(symbol_of(size)), std::string(name_of(size)),
                            tolerance_text(input, unit_of(size)), fact, fact == nullptr ? "given" : ""});
        }
        return list;
    }

    void add_found() {
        Step step{std::string(name_of(answer_.pack.found)),
                  "",
                  "",
                  text(answer_.pack.found),
                  givens(),
                  "plain geometry, no air between the turns; lengths in mm"};
        const std::string ring = fmt::format("{}² − {}²", mm(Outer), mm(Hub));
        switch (answer_.pack.found) {
            case Length:
                step.formula = "L = π (D² − d²) / 4t";
                step.numbers = fmt::format("π ({}) / (4 × {})", ring, mm(Thickness));
                break;
            case Outer:
                step.formula = "D = √(d² + 4 L t / π)";
                step.numbers = fmt::format("√({}² + 4 × {} × {} / π)", mm(Hub), mm(Length), mm(Thickness));
                break;
            case Hub:
                step.formula = "d = √(D² − 4 L t / π)";
                step.numbers = fmt::format("√({}² − 4 × {} × {} / π)", mm(Outer), mm(Length), mm(Thickness));
                break;
            case Thickness:
                step.formula = "t = π (D² − d²) / 4L";
                step.numbers = fmt::format("π ({}) / (4 × {})", ring, mm(Length));
                break;
        }
        steps_.push_back(std::move(step));
    }

    void add_turns() {
        steps_.push_back({"turns of tape",
                          "N = (D − d) / 2t",
                          fmt::format("({} − {}) / (2 × {})", mm(Outer), mm(Hub), mm(Thickness)),
                          with_uncertainty(answer_.turns, ""),
                          {},
                          "plain geometry"});
    }

    void add_time(const PackTime& time) {
        const std::string address = address_of(*query_.format, *time.mode);
        const std::string speed = significant(time.speed->in("mm/s"), digits);
        steps_.push_back(
            {"time that it plays, " + address,
             "T = L / v",
             fmt::format("{} / {}", mm(Length), speed),
             fmt::format("{} s = {}", significant(time.seconds.value, digits), time_with_uncertainty(time.seconds)),
             {{"v", "tape speed", tolerance_text(input_of(*time.speed, "mm/s"), "mm/s"), time.speed}},
             "definition of speed"});
        steps_.push_back({"one turn of the full reel, " + address,
                          "τ = π D / v",
                          fmt::format("π × {} / {}", significant(answer_.full_mm.value, digits), speed),
                          with_uncertainty(time.turn_full_s, "s"),
                          {},
                          "plain geometry, at the outside of the pack"});
    }

    void add_rewinding() {
        const Rewinding& rewinding = answer_.rewinding;
        steps_.push_back({"pull of the winding reel, start of rewind over end; drag of the other, end over start",
                          "q = D / d",
                          fmt::format("{} / {}", significant(answer_.full_mm.value, digits), mm(Hub)),
                          with_uncertainty(rewinding.radius_ratio, ""),
                          {},
                          "force is torque over radius; both torques taken as steady, both hubs as alike"});
        steps_.push_back({"what pull over drag loses from start to end of rewind",
                          "q²",
                          fmt::format("{}²", significant(rewinding.radius_ratio.value, digits)),
                          with_uncertainty(rewinding.margin_ratio, ""),
                          {},
                          ""});
    }

    void add_shell(const ShellCheck& check) {
        const bool shared = check.room->arrangement == Arrangement::SideBySide && check.fit->is_width;
        const table::Fact* side = check.fit->is_width ? check.room->width : check.room->depth;
        steps_.push_back({"room that the full pack needs",
                          shared ? "w = D + √(d² + 2 L t / π)" : "w = D",
                          "",
                          with_uncertainty(check.fit->needed_mm, check.needed_uncertainty_mm, "mm"),
                          {{"", check.fit->is_width ? "width of the shell" : "depth of the shell",
                            significant(side->in("mm"), digits) + " mm", side}},
                          std::string(assumption_of(check.room->arrangement))});
    }

    const PackAnswer& answer_;
    const PackQuery& query_;
    Working steps_;
};

}  // namespace

Working working_of(const PackAnswer& answer, const PackQuery& query) { return Writing(answer, query).whole(); }

}  // namespace guardband::calc
