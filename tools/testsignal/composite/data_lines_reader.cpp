#include "testsignal/composite/data_lines_reader.h"

#include <algorithm>
#include <optional>
#include <sstream>

namespace guardband::testsignal {
namespace {

void require(bool holds, const Section& s, std::string_view key, const char* what, const char* remedy) {
    if (!holds) s.fail(key, what, remedy);
}

bool are_hexadecimal(const std::string& text) {
    return !text.empty() &&
           std::ranges::all_of(text, [](char c) { return (c >= '0' && c <= '9') || (c >= 'A' && c <= 'F'); });
}

void read_page(Section& s, DataLines& d) {
    std::string page = "100";
    s.read("page", page);
    require(page.size() == 3 && are_hexadecimal(page) && page[0] >= '1' && page[0] <= '8', s, "page", "is no page",
            "give magazine and page, as \"100\"");
    d.page = std::stoi(page, nullptr, 16);
}

/// The words of EN 300 294 (625 lines) and IEC 61880, from memory.
void read_shape(Section& s, bool lines_525, DataLines& d) {
    using Words = std::vector<std::pair<std::string, int>>;
    const Words of_525{{"4:3", 0}, {"16:9", 0x2000}, {"16:9 letterbox", 0x1000}};
    const Words of_625{{"4:3", 0x8}, {"16:9", 0x7}, {"16:9 letterbox", 0xB}, {"14:9 letterbox", 0x1}};
    d.wide_screen_word = s.choice("shape", lines_525 ? of_525 : of_625).value_or(lines_525 ? 0 : 0x8);
    bool film = false;
    s.read("film", film);
    require(!film || !lines_525, s, "film", "is not told with 525 lines", "leave it out");
    if (film) d.wide_screen_word |= 0x10;
}

void read_label(Section& s, DataLines& d) {
    s.read("label_network", d.label_network);
    require(d.label_network >= 0 && d.label_network < 0x1000, s, "label_network", "has more than 12 bits",
            "give 0 to 4095");
    std::vector<int> when{d.label_day, d.label_month, d.label_hour, d.label_minute};
    s.read("label_time", when);
    const auto within = [&](std::size_t i, int low, int high) { return when[i] >= low && when[i] <= high; };
    require(when.size() == 4 && within(0, 0, 31) && within(1, 0, 15) && within(2, 0, 31) && within(3, 0, 63), s,
            "label_time", "is no time of a label", "give day, month, hour and minute");
    d.label_day = when[0], d.label_month = when[1], d.label_hour = when[2], d.label_minute = when[3];
}

void read_time_code(Section& s, bool lines_525, DataLines& d) {
    std::string start = "00:00:00:00";
    s.read("time_code_start", start);
    MadeTimeCode& code = d.time_code_start;
    char stroke[3];
    std::istringstream stream(start);
    const bool reads = static_cast<bool>(stream >> code.hours >> stroke[0] >> code.minutes >> stroke[1] >>
                                         code.seconds >> stroke[2] >> code.frames);
    const auto fits = [](int value, int count) { return value >= 0 && value < count; };
    require(reads && fits(code.hours, 24) && fits(code.minutes, 60) && fits(code.seconds, 60) &&
                fits(code.frames, lines_525 ? 30 : 25),
            s, "time_code_start", "is no time code", "give hours:minutes:seconds:frames");
    s.read("drop_frame", d.drop_frame);
    require(!d.drop_frame || lines_525, s, "drop_frame", "is of 525 lines only", "leave it out");
    std::optional<double> at, by;
    s.read("jump_at_frame", at);
    s.read("jump_by_frames", by);
    require(at.has_value() == by.has_value(), s, at ? "jump_at_frame" : "jump_by_frames", "needs the other",
            "give both jump_at_frame and jump_by_frames");
    if (at) d.jump_at_frame = static_cast<std::int64_t>(*at), d.jump_by_frames = static_cast<std::int64_t>(*by);
    require(d.jump_by_frames >= 0 && d.jump_by_frames < 3'000'000, s, "jump_by_frames", "is none that is made",
            "give 0 to 3000000");
}

}  // namespace

DataLines read_data_lines(Section s, const CompositeSystem& system) {
    DataLines d;
    const bool lines_525 = system.lines == 525;
    for (const auto& [name, lines] :
         std::vector<std::pair<const char*, std::vector<int>*>>{{"teletext", &d.teletext},
                                                                {"captions", &d.captions},
                                                                {"wide_screen", &d.wide_screen},
                                                                {"label", &d.label},
                                                                {"time_code", &d.time_code}}) {
        s.read(name, *lines);
        for (const int line : *lines)
            require(line >= 1 && line <= system.lines, s, name, "holds no line of the frame", "count from 1");
    }
    require(!lines_525 || (d.teletext.empty() && d.label.empty()), s, d.teletext.empty() ? "label" : "teletext",
            "is made for 625 lines only", "leave it out");
    require(lines_525 || system.lines == 625 || !d.any(), s, "time_code", "are made for 525 and 625 lines only",
            "leave them out");
    read_page(s, d);
    s.read("page_header", d.page_header);
    s.read("caption_text", d.caption_text);
    read_shape(s, lines_525, d);
    read_label(s, d);
    read_time_code(s, lines_525, d);
    s.read("level_percent", d.level_percent);
    require(d.level_percent > 0 && d.level_percent <= 300, s, "level_percent", "is none that is made",
            "give up to 300");
    s.expect_no_more();
    return d;
}

}  // namespace guardband::testsignal
