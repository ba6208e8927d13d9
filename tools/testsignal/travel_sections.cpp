#include "testsignal/travel_sections.h"

#include <vector>

namespace guardband::testsignal {

void read_conversion(ConversionSettings& c, Section s) {
    s.read_rate("from_field_rate", c.from_field_rate);
    if (const auto method = s.choice<ConversionMethod>(
            "method", {{"repeat", ConversionMethod::Repeat}, {"blend", ConversionMethod::Blend}}))
        c.method = *method;
    s.read("whole_frames", c.whole_frames);
    s.expect_no_more();
}

namespace {

void read_stretch(Section& s, std::string_view key, FrameStretch& out) {
    std::vector<std::int64_t> numbers;
    s.read(key, numbers);
    if (!s.has(key)) return;
    if (numbers.size() != 2) s.fail(key, "isn't a stretch of frames", "give the first frame and how many: [100, 10]");
    out = {numbers[0], numbers[1]};
}

}  // namespace

void read_player(PlayerSettings& p, Section s) {
    read_stretch(s, "black", p.black);
    read_stretch(s, "grey", p.grey);
    read_stretch(s, "blue", p.blue);
    read_stretch(s, "snow", p.snow);
    read_stretch(s, "colourless", p.colourless);
    read_stretch(s, "colour_alternates", p.colour_alternates);
    s.expect_no_more();
}

void read_noise_band(NoiseBandSettings& b, Section s) {
    s.read("top", b.top);
    s.read("height", b.height);
    s.read("drift_per_s", b.drift_per_s);
    s.read("start_s", b.start_s);
    s.read("duration_s", b.duration_s);
    s.read("bands", b.bands);
    s.read("spacing", b.spacing);
    s.read("other_head", b.other_head);
    s.read("swing", b.swing);
    s.read("swing_hz", b.swing_hz);
    s.expect_no_more();
}

void read_vertical_roll(VerticalRollSettings& v, Section s) {
    s.read("lines_per_s", v.lines_per_s);
    s.read("bar_lines", v.bar_lines);
    s.read("start_s", v.start_s);
    s.read("duration_s", v.duration_s);
    s.expect_no_more();
}

}  // namespace guardband::testsignal
