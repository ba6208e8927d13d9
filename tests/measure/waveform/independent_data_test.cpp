// Data of the field interval from sources that are not ours: libzvbi's own drawing of each service, set into composite
// video, and the generator of analogue television hacktv with teletext and wide-screen signalling.
#include <gmock/gmock.h>
#include <libzvbi.h>

#include <bit>
#include <cmath>
#include <fstream>
#include <numeric>
#include <random>

#include "measure/waveform/made_video.h"
#include "support/ffmpeg.h"
#include "support/hacktv.h"
#include "support/made_sound.h"
#include "support/table_questions.h"

namespace guardband::measure {
namespace {

using testing::ElementsAre;
using testing::IsSupersetOf;

const quantity::LineService* find(const WaveformReport& report, const std::string& name) {
    const quantity::Figure* figure = report.figures.find("data_lines");
    const auto* list = figure == nullptr ? nullptr : std::get_if<std::vector<quantity::LineService>>(&figure->value());
    if (list == nullptr) return nullptr;
    const auto found = std::ranges::find(*list, name, &quantity::LineService::name);
    return found == list->end() ? nullptr : &*found;
}

/// A service that libzvbi draws, and what we call it.
struct Drawn {
    unsigned id;
    int lines_per_frame;
    std::vector<int> lines;
    const char* name;
};
void PrintTo(const Drawn& drawn, std::ostream* out) { *out << drawn.name << ' ' << drawn.lines_per_frame; }

constexpr int rate_hz = 27'000'000, first_sample = 243, row_samples = 1440;
constexpr double blank_code = 20, white_code = 220;

vbi_sampling_par sampling_of(int lines_per_frame) {
    vbi_sampling_par par{};
    par.scanning = lines_per_frame;
    par.sampling_format = VBI_PIXFMT_YUV420;
    par.sampling_rate = rate_hz;
    par.bytes_per_line = row_samples;
    par.offset = first_sample;
    par.start[0] = lines_per_frame == 625 ? 6 : 10, par.count[0] = lines_per_frame == 625 ? 18 : 13;
    par.start[1] = lines_per_frame == 625 ? 318 : 272, par.count[1] = par.count[0];
    par.interlaced = 0;
    par.synchronous = 1;
    return par;
}

/// Bytes as a service sends them: text with odd parity after an address of row 1 (teletext B), letters (captions).
vbi_sliced sliced_line(const Drawn& drawn, int line, std::mt19937& random) {
    vbi_sliced sliced{};
    sliced.id = drawn.id, sliced.line = static_cast<std::uint32_t>(line);
    for (std::uint8_t& byte : sliced.data) {
        byte = static_cast<std::uint8_t>('A' + random() % 26);
        if (std::popcount(byte) % 2 == 0) byte |= 0x80U;
    }
    if (drawn.id == VBI_SLICED_VPS) std::iota(std::begin(sliced.data), std::end(sliced.data), std::uint8_t{40});
    if (drawn.id == VBI_SLICED_WSS_625) sliced.data[0] = 0x0B, sliced.data[1] = 0;
    constexpr std::uint8_t magazine_1_odd_row = 0xC7, row_pair_0 = 0x15;  // Hamming 8/4 of 9 and of 0
    if ((drawn.id & (VBI_SLICED_TELETEXT_B_625 | VBI_SLICED_TELETEXT_B_525)) != 0)
        sliced.data[0] = magazine_1_odd_row, sliced.data[1] = row_pair_0;
    return sliced;
}

/// Sets the library's lines into video whose own lines are empty. Samples are volts.
void set_in(std::vector<float>& samples, const testsignal::CompositeRecipe& recipe, const Drawn& drawn) {
    const testsignal::Timeline timeline(recipe);
    const vbi_sampling_par par = sampling_of(drawn.lines_per_frame);
    std::vector<std::uint8_t> image(static_cast<std::size_t>((par.count[0] + par.count[1]) * row_samples));
    std::mt19937 random(5);
    for (std::int64_t frame = 0;; ++frame) {
        std::vector<vbi_sliced> sliced;
        for (const int line : drawn.lines) sliced.push_back(sliced_line(drawn, line, random));
        ASSERT_TRUE(vbi_raw_vbi_image(image.data(), image.size(), &par, static_cast<int>(blank_code),
                                      static_cast<int>(white_code), 0, sliced.data(),
                                      static_cast<unsigned>(sliced.size())));
        for (const int line : drawn.lines) {
            const bool second = line >= par.start[1];
            const auto row =
                static_cast<std::size_t>(second ? par.count[0] + line - par.start[1] : line - par.start[0]);
            const auto at = static_cast<std::size_t>(
                std::lround(timeline.edge_sample(frame * drawn.lines_per_frame + line - 1)) + first_sample);
            if (at + row_samples > samples.size()) return;
            for (std::size_t i = 0; i < row_samples; ++i)
                samples[at + i] = static_cast<float>((image[row * row_samples + i] - blank_code) /
                                                     (white_code - blank_code) * recipe.system.white_mv / 1000);
        }
    }
}

class LibrarysDrawing : public testing::TestWithParam<Drawn> {};

TEST_P(LibrarysDrawing, IsFoundAndNamed) {
    const Drawn& drawn = GetParam();
    auto recipe = video_recipe(drawn.lines_per_frame == 625 ? "PAL" : "NTSC");
    recipe.sampling.rate_hz = rate_hz, recipe.sampling.gain_per_volt = 1, recipe.sampling.offset = 0;
    std::vector<float> samples = video_samples(recipe);
    set_in(samples, recipe, drawn);
    const WaveformReport report = measured(std::move(samples), rate_hz);
    const quantity::LineService* found = find(report, drawn.name);
    const auto& all = std::get<std::vector<quantity::LineService>>(report.figures.find("data_lines")->value());
    ASSERT_NE(found, nullptr);
    EXPECT_EQ(found->lines, drawn.lines);
    EXPECT_EQ(found->fields, found->of_fields);
    EXPECT_EQ(found->right.value_or(1), 1);
    EXPECT_EQ(all.size(), 1U) << "nothing else is there";
}

INSTANTIATE_TEST_SUITE_P(Services, LibrarysDrawing,
                         testing::Values(Drawn{VBI_SLICED_TELETEXT_A, 625, {9, 322}, "teletext, system A"},
                                         Drawn{VBI_SLICED_TELETEXT_B_625, 625, {7, 8, 20, 322}, "teletext, system B"},
                                         Drawn{VBI_SLICED_TELETEXT_C_625, 625, {9, 322}, "teletext, system C"},
                                         Drawn{VBI_SLICED_TELETEXT_D_625, 625, {9, 322}, "teletext, system D"},
                                         Drawn{VBI_SLICED_VPS, 625, {16}, "programme label"},
                                         Drawn{VBI_SLICED_WSS_625, 625, {23}, "wide-screen signalling"},
                                         Drawn{VBI_SLICED_CAPTION_625, 625, {22, 335}, "captions"},
                                         Drawn{VBI_SLICED_CAPTION_525, 525, {21, 284}, "captions"}));

/// A page of 25 packets for the generator: ETS 300 706's coding written out by itself.
void write_page(const std::string& path) {
    constexpr std::uint8_t hamming[] = {0x15, 0x02, 0x49, 0x5E, 0x64, 0x73, 0x38, 0x2F,
                                        0xD0, 0xC7, 0x8C, 0x9B, 0xA1, 0xB6, 0xFD, 0xEA};
    std::ofstream file(path, std::ios::binary);
    for (unsigned row = 0; row < 25; ++row) {
        std::string packet{static_cast<char>(hamming[1 | (row & 1U) << 3U]), static_cast<char>(hamming[row >> 1U])};
        if (row == 0) packet += std::string(8, static_cast<char>(hamming[0]));
        std::string text = row == 0 ? "KEEPER'S PAGES" : "of the invented museum";
        text.resize(42 - packet.size(), ' ');
        for (const char c : text)
            packet += static_cast<char>(std::popcount(static_cast<unsigned char>(c)) % 2 == 0 ? c | '\x80' : c);
        file << packet;
    }
}

class GeneratorsData : public testing::TestWithParam<int> {};

TEST_P(GeneratorsData, IsReadWithoutAWrongByte) {
    GUARDBAND_NEEDS_HACKTV();
    const support::TemporaryFolder folder;
    write_page(folder.file("packets.t42"));
    const auto samples = support::hacktv_samples("pal", GetParam(), 0.3,
                                                 "--teletext raw:" + folder.file("packets.t42") + " --wss 16:9 --vits");
    const WaveformReport report = measured(samples, GetParam());
    const quantity::LineService* teletext = find(report, "teletext, system B");
    ASSERT_NE(teletext, nullptr);
    // All lines but those of its four test signals.
    EXPECT_THAT(teletext->lines, ElementsAre(7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 19, 20, 21, 22, 320, 321, 322, 323,
                                             324, 325, 326, 327, 328, 329, 332, 333, 334, 335));
    EXPECT_EQ(teletext->fields, teletext->of_fields);
    EXPECT_EQ(teletext->right, 1);
    EXPECT_EQ(teletext->says, "page 100; \"KEEPER'S PAGES\"");
    const quantity::LineService* screen = find(report, "wide-screen signalling");
    ASSERT_NE(screen, nullptr);
    EXPECT_THAT(screen->lines, ElementsAre(23));
    EXPECT_EQ(screen->right, 1);
    EXPECT_EQ(screen->says, "16:9, full (anamorphic); camera");
}

INSTANTIATE_TEST_SUITE_P(Rates, GeneratorsData, testing::Values(13'500'000, 16'000'000, 20'250'000));

}  // namespace
}  // namespace guardband::measure
