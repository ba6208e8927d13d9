#include "support/drawing_check.h"

#include <algorithm>
#include <cmath>
#include <sstream>
#include <stdexcept>

namespace guardband::support {
namespace {

struct Box {
    std::string words;
    double left, top, right, bottom;
};

/// How wide letters run in the wider of the common sans-serifs, as shares of the size; rough on purpose.
double advance_of(char c) {
    if (c == ' ' || std::string_view("ijlft.,;:'()[]/").find(c) != std::string_view::npos) return 0.34;
    return c >= '0' && c <= '9' ? 0.63 : 0.6;
}

constexpr double ascent = 0.73, descent = 0.21;  // of capitals and digits, and of g and p, as shares of the size
constexpr double smallest_mm = 2;                // about 5.7 point: still read at arm's length
constexpr double frame_mm = 6;                   // the frame's distance from the paper's edge
constexpr double touch_mm = 0.35;                // boxes may touch by this much: letters rarely fill theirs

double width_of(const std::string& words) {
    double width = 0;
    for (const char c : words)
        if ((static_cast<unsigned char>(c) & 0xC0U) != 0x80U) width += advance_of(c);
    return width;
}

double turned_by(const SvgElement& text) {
    const auto found = text.attributes.find("transform");
    return found == text.attributes.end() ? 0 : std::stod(found->second.substr(found->second.find('(') + 1));
}

double shift_of(const SvgElement& text) {
    const auto found = text.attributes.find("text-anchor");
    if (found == text.attributes.end()) return 0;
    return found->second == "middle" ? 0.5 : 1;
}

/// The upright box around a text, turned or not.
Box box_of(const SvgElement& text) {
    const double size = text.number("font-size"), width = size * width_of(text.text);
    const double left = -shift_of(text) * width, angle = turned_by(text) * std::acos(-1.0) / 180;
    Box box{text.text, 1e9, 1e9, -1e9, -1e9};
    for (const double x : {left, left + width})
        for (const double y : {-ascent * size, descent * size}) {
            const double at_x = text.number("x") + x * std::cos(angle) - y * std::sin(angle);
            const double at_y = text.number("y") + x * std::sin(angle) + y * std::cos(angle);
            box = {box.words, std::min(box.left, at_x), std::min(box.top, at_y), std::max(box.right, at_x),
                   std::max(box.bottom, at_y)};
        }
    return box;
}

bool overlap(const Box& a, const Box& b) {
    const double wide = std::min(a.right, b.right) - std::max(a.left, b.left),
                 high = std::min(a.bottom, b.bottom) - std::max(a.top, b.top);
    return wide > touch_mm && high > touch_mm;
}

}  // namespace

std::vector<std::string> texts_of(const SvgElement& drawing) {
    std::vector<std::string> texts;
    for (const SvgElement* text : drawing.all("text")) texts.push_back(text->text);
    return texts;
}

double scale_of(const SvgElement& drawing, const std::string& view) {
    for (const std::string& text : texts_of(drawing)) {
        const std::size_t at = text.find(", scale ");
        if (!text.starts_with(view) || at == std::string::npos) continue;
        std::istringstream stream(text.substr(at + 8));
        double on_paper = 0, true_length = 0;
        char colon = 0;
        stream >> on_paper >> colon >> true_length;
        return on_paper / true_length;
    }
    throw std::runtime_error("no scale of " + view);
}

std::vector<std::string> faults_of_words(const SvgElement& drawing) {
    std::vector<std::string> faults;
    std::vector<Box> boxes;
    const double width = std::stod(drawing.attributes.at("width")), height = std::stod(drawing.attributes.at("height"));
    for (const SvgElement* text : drawing.all("text")) {
        if (text->text.empty()) continue;
        const Box box = box_of(*text);
        if (box.left < frame_mm || box.top < frame_mm || box.right > width - frame_mm || box.bottom > height - frame_mm)
            faults.push_back("outside the frame: " + box.words);
        if (text->number("font-size") < smallest_mm) faults.push_back("too small: " + box.words);
        for (const Box& other : boxes)
            if (overlap(box, other)) faults.push_back("on top of each other: " + other.words + " / " + box.words);
        boxes.push_back(box);
    }
    return faults;
}

}  // namespace guardband::support
