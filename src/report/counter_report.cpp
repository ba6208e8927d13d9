#include "report/counter_report.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "calc/number_text.h"
#include "report/drawing/counter_card.h"
#include "report/figure_page.h"
#include "report/text_table.h"
#include "report/working_report.h"

namespace guardband::report {
namespace {

using calc::CounterAnswer;
using calc::CounterCard;
using calc::CounterPair;
using calc::CounterPoint;
using calc::CounterQuery;
using calc::PackSize;
using calc::significant;
using calc::time_with_uncertainty;
using calc::with_uncertainty;
using quantity::h_mm_ss;
using enum TextTable::Align;

std::string paragraph(const std::string& text) { return text.empty() ? "" : "\n" + wrapped(text, page_width) + "\n"; }

std::string subject(const CounterAnswer& answer, const CounterQuery& query) {
    std::string text = query.format == nullptr ? "Counter" : query.format->name;
    if (answer.grade.grade != nullptr) text += ", " + answer.grade.grade->id;
    if (answer.mode != nullptr) text += ", " + answer.mode->system + " " + answer.mode->id;
    return text;
}

std::string reel_name(const CounterQuery& query) {
    return query.reel == calc::CountedReel::TakeUp ? "take-up reel" : "supply reel";
}

std::string reading_text(const CounterPoint& point) {
    return with_uncertainty(point.reading, std::max(0.5, point.reading_uncertainty), "");
}

std::string answer_text(const CounterAnswer& answer, const CounterQuery& query) {
    if (!answer.answer) {
        if (!answer.end) return subject(answer, query) + ": the counter's curve.\n";
        return wrapped(fmt::format("{}: at the end of the tape, {}, the counter reads {}.", subject(answer, query),
                                   h_mm_ss(answer.end->seconds), reading_text(*answer.end)),
                       page_width) +
               "\n";
    }
    const CounterPoint& point = *answer.answer;
    const std::string time = time_with_uncertainty(point.seconds, point.seconds_uncertainty);
    return wrapped(query.reading ? fmt::format("{}: reading {} is {}.", subject(answer, query),
                                               significant(point.reading, 7), time)
                                 : fmt::format("{}: at {} the counter reads {}.", subject(answer, query),
                                               h_mm_ss(point.seconds), reading_text(point)),
                   page_width) +
           "\n";
}

std::string left_over_text(const CounterAnswer& answer) {
    const calc::CounterFit& fit = answer.fit;
    constexpr double least_freedom = 0.5;
    if (fit.bend_contradiction && fit.uses_known_bend) return "";
    if (fit.degrees_of_freedom < least_freedom)
        return "Nothing is left over that would show a wrong pair: ± is what rounding and tolerances leave, no more.";
    if (fit.widening > 1)
        return fmt::format("The pairs scatter {} times as wide as their roundings would; ± is widened by that.",
                           significant(fit.widening, 2));
    return "They lie on one curve within their roundings.";
}

/// What was taken for granted, by the number of pairs.
std::string model_text(const CounterAnswer& answer, const CounterQuery& query) {
    const std::size_t pairs = query.pairs.size();
    if (pairs == 0) {
        std::string text = fmt::format("No pair to calibrate by: taken as {} count{} a turn of the {}",
                                       significant(*answer.counts_per_turn, 5), *answer.counts_per_turn == 1 ? "" : "s",
                                       reel_name(query));
        text += answer.ratio_is_assumed ? ", which is assumed: many counters are geared. " : ". ";
        return text +
               "Hub, thickness and speed are as below; calibrate with --calibrate READING=TIME, and they matter less.";
    }
    if (pairs == 1)
        return "One pair: it tells the counts a turn; hub, thickness and speed, and so the bend of the curve, are as "
               "below. " +
               left_over_text(answer);
    const std::string both = pairs == 2 ? "Two pairs" : fmt::format("{} pairs", pairs);
    std::string text = both + ", least squares: they tell the counts a turn and the bend of the curve";
    text += answer.fit.uses_known_bend ? "; hub, thickness and speed below count as one more observation of the bend. "
                                       : " by themselves; hub and thickness are not used. ";
    return text + left_over_text(answer);
}

std::string contradiction_text(const CounterAnswer& answer) {
    if (!answer.fit.bend_contradiction) return "";
    return fmt::format(
        "The pairs contradict hub, thickness or speed: their own bend is {} standard uncertainties away. {}",
        significant(*answer.fit.bend_contradiction, 2),
        answer.fit.uses_known_bend
            ? "Both were used and ± widened by that: check the pairs, the hub and the mode, or give a third pair."
            : "With so many pairs, hub and thickness were left out.");
}

std::string pair_name(const CounterPair& pair) {
    return fmt::format("{}={}", significant(pair.reading, 7), h_mm_ss(pair.time_s));
}

std::string doubtful_text(const CounterAnswer& answer, const CounterQuery& query) {
    if (!answer.fit.doubtful) return "";
    const calc::DoubtfulPair& doubtful = *answer.fit.doubtful;
    std::string text =
        fmt::format("Doubtful: {} lies {} s {} what the others give, {} times what it may be off. It still counts",
                    pair_name(query.pairs[doubtful.index]), significant(std::round(std::abs(doubtful.off_s)), 4),
                    doubtful.off_s > 0 ? "after" : "before", significant(doubtful.ratio, 2));
    if (answer.answer_without_doubtful)
        text +=
            "; without it the answer is " + (query.reading ? h_mm_ss(*answer.answer_without_doubtful)
                                                           : fmt::format("{:.0f}", *answer.answer_without_doubtful));
    return text + ". Check it, and leave it out if it is wrong.";
}

std::string origin_of(const calc::PackFigure& figure) {
    return figure.fact == nullptr ? "given" : "table, " + std::string(to_string(figure.fact->standing));
}

/// What the curve rests on and what it says.
std::string reel_text(const CounterAnswer& answer, const CounterQuery& query) {
    TextTable table({{"", Left}, {"", Left}, {"", Left}});
    if (answer.counts_per_turn)
        table.add({"counts a turn", significant(*answer.counts_per_turn, 4),
                   !query.pairs.empty()      ? "by the pairs"
                   : answer.ratio_is_assumed ? "assumed"
                                             : "given"});
    for (const PackSize size : {PackSize::Hub, PackSize::Thickness, PackSize::Length})
        if (answer.is_known[size]) {
            const auto& figure = answer.reel[size];
            table.add({std::string(name_of(size)),
                       with_uncertainty(figure.input.value, figure.input.half_width / std::sqrt(3.0), unit_of(size)),
                       origin_of(figure)});
        }
    if (answer.fitted_thickness_um && query.pairs.size() > 1)
        table.add({"thickness by the pairs", significant(*answer.fitted_thickness_um, 3) + " µm", "air included"});
    if (answer.speed != nullptr) {
        const calc::Input speed = calc::input_of(*answer.speed, "mm/s");
        table.add({"tape speed", with_uncertainty(speed.value, speed.half_width / std::sqrt(3.0), "mm/s"),
                   "table, " + std::string(to_string(answer.speed->standing))});
    }
    if (answer.end)
        table.add({"end of the tape",
                   fmt::format("{} at {}", time_with_uncertainty(answer.end->seconds, answer.end_uncertainty_s),
                               reading_text(*answer.end)),
                   "length over speed"});
    return table.is_empty() ? "" : "\n" + table.to_string("  ");
}

std::string pairs_text(const CounterAnswer& answer, const CounterQuery& query) {
    if (query.pairs.size() < 2) return "";
    TextTable table({{"reading", Right}, {"time", Right}, {"off the curve", Right}});
    for (std::size_t i = 0; i < query.pairs.size(); ++i)
        table.add({significant(query.pairs[i].reading, 7), h_mm_ss(query.pairs[i].time_s),
                   fmt::format("{:+.1f} s", answer.fit.residuals_s[i])});
    return "\n" + table.to_string("  ");
}

std::string quality_text(const CounterCard& card) {
    return fmt::format("Good to ± {:.0f} s at {}, ± {:.0f} s at {}, ± {:.0f} s at {} (one standard uncertainty).",
                       card.quality[0].seconds_uncertainty, h_mm_ss(card.quality[0].seconds),
                       card.quality[1].seconds_uncertainty, h_mm_ss(card.quality[1].seconds),
                       card.quality[2].seconds_uncertainty, h_mm_ss(card.quality[2].seconds));
}

/// Row `i` of a list that is broken into two columns.
template <typename Cells>
void add_halves(std::vector<std::string>& cells, const std::vector<CounterPoint>& points, std::size_t row, Cells pair) {
    const std::size_t rows = (points.size() + 1) / 2;
    for (const std::size_t at : {row, row + rows}) {
        const bool is_there = row < rows && at < points.size();
        const auto [key, value] = is_there ? pair(points[at]) : std::pair<std::string, std::string>{};
        cells.insert(cells.end(), {key, value});
    }
}

std::string card_text(const CounterCard* card) {
    if (card == nullptr) return "";
    TextTable table({{"reading", Right},
                     {"time", Right},
                     {"reading", Right},
                     {"time", Right},
                     {"  time", Right},
                     {"reading", Right},
                     {"time", Right},
                     {"reading", Right}});
    const std::size_t rows = (std::max(card->by_reading.size(), card->by_time.size()) + 1) / 2;
    for (std::size_t row = 0; row < rows; ++row) {
        std::vector<std::string> cells;
        add_halves(cells, card->by_reading, row, [](const CounterPoint& p) {
            return std::pair{fmt::format("{:.0f}", p.reading), h_mm_ss(p.seconds)};
        });
        add_halves(cells, card->by_time, row, [](const CounterPoint& p) {
            return std::pair{h_mm_ss(p.seconds), fmt::format("{:.0f}", p.reading)};
        });
        table.add(std::move(cells));
    }
    return "\n" + table.to_string("  ") + paragraph(quality_text(*card));
}

std::string closing_text(const CounterAnswer& answer, const CounterQuery& query, const table::Table& table) {
    std::string text = "Counter and time both start from 0 at the same place, with the " + reel_name(query) +
                       (query.reel == calc::CountedReel::TakeUp ? " empty" : " full") +
                       "; no slip. ± is one standard uncertainty.";
    if (answer.mode_is_assumed && query.pairs.size() < 2)
        text +=
            fmt::format(" {} is assumed: name another mode with --address.", address_of(*query.format, *answer.mode));
    return paragraph(text) + (query.format == nullptr ? "" : edition_text(table.edition) + ".\n");
}

}  // namespace

std::string counter_text(const CounterAnswer& answer, const CounterQuery& query, const CounterCard* card,
                         const table::Table& table, bool explain) {
    std::string text = answer_text(answer, query) + card_text(card) + paragraph(model_text(answer, query)) +
                       reel_text(answer, query) + pairs_text(answer, query) + paragraph(contradiction_text(answer)) +
                       paragraph(doubtful_text(answer, query));
    if (explain) text += working_text(answer.working, table);
    return text + closing_text(answer, query, table);
}

drawing::Drawing counter_card_drawing(const CounterAnswer& answer, const CounterQuery& query, const CounterCard& card,
                                      const table::Table& table) {
    const std::string basis =
        query.pairs.empty()
            ? fmt::format("Not calibrated: {} count{} a turn of the {}.", significant(*answer.counts_per_turn, 5),
                          *answer.counts_per_turn == 1 ? "" : "s", reel_name(query))
            : fmt::format("Calibrated by {} pair{} of reading and time.", query.pairs.size(),
                          query.pairs.size() == 1 ? "" : "s");
    const std::string edition = query.format == nullptr ? "" : " " + edition_text(table.edition) + ".";
    return {
        drawing::counter_card(card, {"Counter and time: " + subject(answer, query),
                                     "Set the counter to 0 at the start of the tape.   Machine: ____________________",
                                     {basis + " " + quality_text(card) + edition}}),
        {}};
}

}  // namespace guardband::report
