#include "report/drawing/counter_card.h"

#include <fmt/format.h>

#include <algorithm>

#include "quantity/quantity.h"
#include "report/drawing/dimension.h"
#include "report/drawing/drawing_sheet.h"
#include "report/drawing/svg.h"

namespace guardband::report::drawing {
namespace {

constexpr double width_mm = 148, height_mm = 105, margin_mm = 7;  // A6 across
constexpr double title_mm = 4, subtitle_mm = 2.6, heading_mm = 2.6, row_mm = 2.6, note_mm = 2.1;
constexpr double rows_top_mm = 27.5, widest_pitch_mm = 3.6, note_pitch_mm = 2.9;
constexpr double last_line_mm = 98.4;                    // of the notes: clear of the margin that printers leave
constexpr double column_mm = 29, key_mm = 12;            // a column's width, and of what is looked up in it
constexpr double lefts_mm[] = {margin_mm, 42, 77, 112};  // of the four columns
constexpr std::size_t rows_per_column = card_rows / 2, rule_every = 5;

using calc::CounterPoint;

/// The size, or a smaller one in which the words fit between the margins.
double fitting_mm(std::string_view words, double size_mm, bool bold) {
    return size_mm * std::min(1.0, (width_mm - 2 * margin_mm) / text_width_mm(words, size_mm, bold));
}

class Card {
public:
    Card(const calc::CounterCard& card, const CardWords& words)
        : card_(card),
          words_(words),
          svg_(width_mm, height_mm, words.title,
               "Time at round readings of the counter, and readings at round times.") {}

    std::string whole() {
        svg_.rectangle({0.3, 0.3}, {width_mm - 0.3, height_mm - 0.3},
                       {.fill = ink::white, .stroke = ink::black, .stroke_width_mm = 0.18});
        svg_.text({margin_mm, 9}, words_.title, {.size_mm = fitting_mm(words_.title, title_mm, true), .bold = true});
        svg_.text({margin_mm, 13.5}, words_.subtitle, {.size_mm = fitting_mm(words_.subtitle, subtitle_mm, false)});
        const double floor = draw_notes();
        pitch_mm_ = std::min(widest_pitch_mm, (floor - rows_top_mm - 1) / rows_per_column);
        draw_block("by-reading", 0, "reading", "time", card_.by_reading, [](const CounterPoint& p) {
            return std::pair{fmt::format("{:.0f}", p.reading), quantity::h_mm_ss(p.seconds)};
        });
        draw_block("by-time", 2, "time", "reading", card_.by_time, [](const CounterPoint& p) {
            return std::pair{quantity::h_mm_ss(p.seconds), fmt::format("{:.0f}", p.reading)};
        });
        const double middle = (lefts_mm[1] + column_mm + lefts_mm[2]) / 2;
        svg_.line({middle, rows_top_mm - 8}, {middle, floor}, {.stroke = ink::black, .stroke_width_mm = 0.18});
        return svg_.finished();
    }

private:
    template <typename Cells>
    void draw_block(std::string_view id, std::size_t column, const char* key, const char* value,
                    const std::vector<CounterPoint>& points, Cells cells) {
        svg_.open_group(id);
        const std::size_t columns = points.size() > rows_per_column ? 2 : 1;
        for (std::size_t i = 0; i < columns; ++i) draw_heading(lefts_mm[column + i], key, value);
        // Both columns alike full, so that none ends in a single row.
        const std::size_t rows = (points.size() + columns - 1) / columns;
        for (std::size_t i = 0; i < points.size(); ++i) {
            const auto [looked_up, found] = cells(points[i]);
            draw_row(lefts_mm[column + i / rows], i % rows, looked_up, found);
        }
        svg_.close_group();
    }

    void draw_heading(double left, const char* key, const char* value) {
        const double y = rows_top_mm - 4.2;
        svg_.text({left + key_mm, y}, key, {.size_mm = heading_mm, .anchor = Anchor::End});
        svg_.text({left + column_mm, y}, value, {.size_mm = heading_mm, .anchor = Anchor::End});
        svg_.line({left, y + 1.2}, {left + column_mm, y + 1.2}, {.stroke = ink::black, .stroke_width_mm = 0.25});
    }

    void draw_row(double left, std::size_t row, const std::string& key, const std::string& value) {
        const double y = rows_top_mm + static_cast<double>(row) * pitch_mm_;
        const double size = std::min(row_mm, 0.85 * pitch_mm_);
        svg_.text({left + key_mm, y}, key, {.size_mm = size, .anchor = Anchor::End, .bold = true});
        svg_.text({left + column_mm, y}, value, {.size_mm = size, .anchor = Anchor::End});
        if ((row + 1) % rule_every == 0)
            svg_.line({left, y + 0.25 * pitch_mm_}, {left + column_mm, y + 0.25 * pitch_mm_},
                      {.stroke = ink::pale, .stroke_width_mm = 0.15});
    }

    /// @returns the top of what they take
    double draw_notes() {
        std::vector<std::string> lines;
        for (const std::string& note : words_.notes)
            for (std::string& line : lines_of(note, width_mm - 2 * margin_mm, note_mm))
                lines.push_back(std::move(line));
        const double top = last_line_mm - note_pitch_mm * static_cast<double>(lines.size());
        svg_.open_group("notes");
        double y = top;
        for (const std::string& line : lines) svg_.text({margin_mm, y += note_pitch_mm}, line, {.size_mm = note_mm});
        svg_.close_group();
        return top;
    }

    const calc::CounterCard& card_;
    const CardWords& words_;
    Svg svg_;
    double pitch_mm_ = 0;
};

}  // namespace

std::string counter_card(const calc::CounterCard& card, const CardWords& words) { return Card(card, words).whole(); }

}  // namespace guardband::report::drawing
