// The readers of data lines by themselves: what they find in noise, and what hostile bytes make of their texts.
#include <fmt/format.h>
#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>

#include "measure/waveform/data_slicer.h"
#include "measure/waveform/data_text.h"
#include "measure/waveform/interval_time_code.h"
#include "measure/waveform/screen_signal.h"
#include "measure/waveform/time_code_run.h"
#include "testsignal/composite/data_lines.h"
#include "testsignal/gaussian_noise.h"

namespace guardband::measure {
namespace {

using testing::AllOf;
using testing::Each;
using testing::Ge;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Le;

/// Rows of noise of the bandwidth that data has, its highest tenth at the level of ones.
class NoiseRows {
public:
    explicit NoiseRows(double line_us) : random_(11), levels_(DataRow::length) { row_.line_us = line_us; }

    const DataRow& next() {
        random_.fill_gaussian(levels_);
        float last = 0;
        for (float& level : levels_) last = level = 0.5F * level + 0.5F * last;  // −3 dB at 3 MHz
        std::vector<float> sorted = levels_;
        std::ranges::nth_element(sorted, sorted.begin() + DataRow::length * 9 / 10);
        for (float& level : levels_) level /= sorted[DataRow::length * 9 / 10];
        row_.levels = levels_;
        return row_;
    }

private:
    testsignal::Random random_;
    std::vector<float> levels_;
    DataRow row_;
};

// What the headers claim.
TEST(NoiseAlone, HardlyEverLooksLikeData) {
    using enum DataService;
    constexpr int rows = 6000;
    for (const bool lines_525 : {false, true}) {
        NoiseRows noise(lines_525 ? 63.556 : 64);
        DataSlicer slicer(lines_525);
        std::map<DataService, int> found;
        int code = 0, right = 0, screen = 0;
        for (int i = 0; i < rows; ++i) {
            const DataRow& row = noise.next();
            for (const DataService service : {TeletextA, TeletextB, TeletextC, TeletextD, Captions, WideScreen, Label})
                found[service] += slicer.read(row, service) ? 1 : 0;
            const RowMeans means(row);
            const auto reading = read_interval_time_code(row, means, lines_525 ? 30 : 25);
            code += reading ? 1 : 0, right += reading && reading->right ? 1 : 0;
            screen += read_screen_signal_525(row, means) ? 1 : 0;
        }
        for (const auto& [service, count] : found) EXPECT_LE(count, rows / 1500) << static_cast<int>(service);
        EXPECT_EQ(code, 0);
        EXPECT_EQ(right, 0);
        EXPECT_LE(screen, rows / 1500);
        EXPECT_EQ(found[Captions], 0);
        EXPECT_EQ(found[Label], 0);
    }
}

TEST(HostileBytes, BecomePrintableTextOfBoundedLength) {
    testsignal::Random random(4);
    TeletextText teletext(42);
    CaptionText captions;
    for (int i = 0; i < 200'000; ++i) {
        SlicedLine line;
        for (std::uint8_t& byte : line.bytes) byte = static_cast<std::uint8_t>(random.uniform() * 256);
        captions.see(line);
        if (i % 2 == 0) {  // headers with any page and text
            line.bytes[0] = 0x02, line.bytes[1] = 0x15;
            for (std::size_t k = 10; k < 42; ++k)
                if (std::popcount(line.bytes[k]) % 2 == 0) line.bytes[k] ^= 0x80U;
        }
        teletext.see(line);
    }
    for (const std::string& text : {teletext.words(), captions.words()}) {
        EXPECT_LE(text.size(), 120U) << text;
        EXPECT_THAT(text, Each(AllOf(Ge(' '), Le('~')))) << text;
    }
    EXPECT_THAT(teletext.words(), HasSubstr(" more; "));
    EXPECT_THAT(captions.words(), HasSubstr("and more"));
    EXPECT_NEAR(captions.bytes().share(), 0.5, 0.01);
}

SlicedLine caption(std::uint8_t first, std::uint8_t second) {
    SlicedLine line;
    line.bytes[0] = std::popcount(first) % 2 == 0 ? first | 0x80U : first;
    line.bytes[1] = std::popcount(second) % 2 == 0 ? second | 0x80U : second;
    return line;
}

TEST(Captions, OfOtherChannelsAndProgrammeDataAreNoText) {
    CaptionText captions;
    for (const auto& [a, b] : {std::pair{0x14, 0x25},
                               {'H', 'I'},
                               {0x1C, 0x25},
                               {'N', 'O'},
                               {0x01, 0x03},
                               {'N', 'O'},
                               {0x14, 0x2D},
                               {'U', 'P'},
                               {0, 0}})
        captions.see(caption(static_cast<std::uint8_t>(a), static_cast<std::uint8_t>(b)));
    EXPECT_EQ(captions.words(), "\"HI UP\"");
    EXPECT_EQ(captions.bytes().share(), 1);
}

TEST(ScreenSignal, WordsAreThoseOfTheStandards) {
    // EN 300 294, table 1 (from memory): b0 to b3 as sent.
    const auto word = [](const char* bits) {
        int value = 0;
        for (int k = 0; k < 4; ++k) value |= (bits[k] == '1' ? 1 : 0) << k;
        return value;
    };
    EXPECT_THAT(screen_words(word("0001"), false), HasSubstr("4:3"));
    EXPECT_THAT(screen_words(word("1000"), false), HasSubstr("14:9, letterbox in the middle"));
    EXPECT_THAT(screen_words(word("0100"), false), HasSubstr("14:9, letterbox at the top"));
    EXPECT_THAT(screen_words(word("1101"), false), HasSubstr("16:9, letterbox in the middle"));
    EXPECT_THAT(screen_words(word("0010"), false), HasSubstr("16:9, letterbox at the top"));
    EXPECT_THAT(screen_words(word("1011"), false), HasSubstr("wider than 16:9"));
    EXPECT_THAT(screen_words(word("0111"), false), HasSubstr("14:9 within a full 4:3"));
    EXPECT_THAT(screen_words(word("1110"), false), HasSubstr("16:9, full"));
    EXPECT_TRUE(screen_signal_625(0x07, 0).right);
    EXPECT_FALSE(screen_signal_625(0x06, 0).right);
}

/// A row with a code's bits drawn square.
std::vector<float> row_of(const std::vector<bool>& bits, double line_us, double bits_per_line) {
    std::vector<float> levels(DataRow::length);
    const double bit = line_us / bits_per_line * 27, start = DataRow::place(11.2);
    for (std::size_t i = 0; i < levels.size(); ++i) {
        const double at = (static_cast<double>(i) - start) / bit;
        if (at >= 0 && at < static_cast<double>(bits.size())) levels[i] = bits[static_cast<std::size_t>(at)] ? 1 : 0;
    }
    return levels;
}

// ITU-R BT.653's systems B and C on 525 lines (from memory): 364 bits a line, a run-in of two bytes, a framing code.
TEST(TeletextOf525, IsReadByTheBytesOfItsSystem) {
    const double line_us = 1001 / 15.75;
    DataSlicer slicer(true);
    for (const auto& [service, framing, count] :
         {std::tuple{DataService::TeletextB, 0b11100100U, 34U}, {DataService::TeletextC, 0b11100111U, 33U}}) {
        std::vector<bool> bits;
        for (int i = 0; i < 16; ++i) bits.push_back(i % 2 == 0);
        for (unsigned k = 8; k-- > 0;) bits.push_back((framing >> k & 1U) != 0);
        for (unsigned byte = 0; byte < count; ++byte)
            for (unsigned k = 0; k < 8; ++k) bits.push_back(((17 * byte + 3) >> k & 1U) != 0);
        std::vector<float> levels = row_of(bits, line_us, 364);
        for (std::size_t i = levels.size(); i-- > 4;)  // the band's end
            levels[i] = (levels[i] + levels[i - 1] + levels[i - 2] + levels[i - 3] + levels[i - 4]) / 5;
        DataRow row;
        row.line_us = line_us;
        row.levels = levels;
        const auto found = slicer.read(row, service);
        ASSERT_TRUE(found) << static_cast<int>(service);
        for (unsigned byte = 0; byte < count; ++byte) EXPECT_EQ(found->bytes[byte], (17 * byte + 3) & 0xFFU) << byte;
        for (const auto other : {DataService::TeletextB, DataService::TeletextC, DataService::TeletextD})
            EXPECT_EQ(slicer.read(row, other).has_value(), other == service);
    }
}

TEST(IntervalTimeCode, IsReadAtClocksTwoPercentOffAndNoWrongBitPasses) {
    const auto bits = testsignal::time_code_bits({21, 43, 57, 19}, false, true, false);
    DataRow row;
    row.line_us = 64;
    for (const double bits_per_line : {112.8, 114.0, 115.0, 116.0, 117.2}) {
        const std::vector<float> levels = row_of(bits, 64, bits_per_line);
        row.levels = levels;
        const auto found = read_interval_time_code(row, RowMeans(row), 25);
        ASSERT_TRUE(found && found->right) << bits_per_line;
        EXPECT_EQ(calc::to_string(found->code), "21:43:57:19");
        EXPECT_TRUE(found->second_field);
    }
    for (std::size_t wrong = 0; wrong < bits.size(); ++wrong) {
        auto damaged = bits;
        damaged[wrong] = !damaged[wrong];
        const std::vector<float> levels = row_of(damaged, 64, 115);
        row.levels = levels;
        const auto found = read_interval_time_code(row, RowMeans(row), 25);
        EXPECT_FALSE(found && found->right) << "bit " << wrong;
    }
}

TEST(TimeCodeRun, TellsJumpsFromMisreadLinesAndTakesEitherFieldFirst) {
    const calc::TimeCodeRate rate = calc::time_code_rate(25, false);
    for (const int late : {0, 1}) {  // a label may begin with the second field
        TimeCodeRun run(rate, std::nullopt);
        for (int field = 0; field < 100; ++field) {
            std::int64_t frame = 1000 + (field + late) / 2 + (field >= 60 ? 50 : 0);
            if (field == 30) frame += 7;  // misread
            run.see(calc::time_code_of(frame, rate), field / 2.0, field % 2 == 1, field / 50.0);
        }
        EXPECT_EQ(run.jumps(), 1);
        EXPECT_EQ(run.strays(), 1);
        ASSERT_EQ(run.events().size(), 1U);
        EXPECT_EQ(run.events()[0].what, "time code jumps to 00:00:43:05 where 00:00:41:05 is due");
        EXPECT_EQ(calc::to_string(*run.first()), "00:00:40:00");
    }
}

TEST(TimeCodeRun, OfRandomCodesStaysBounded) {
    const calc::TimeCodeRate rate = calc::time_code_rate(25, false);
    TimeCodeRun run(rate, std::nullopt);
    testsignal::Random random(8);
    for (int line = 0; line < 20'000; ++line) {
        const auto frame = static_cast<std::int64_t>(random.uniform() * 2'000'000);
        for (int twice = 0; twice < 2; ++twice) run.see(calc::time_code_of(frame, rate), line / 2.0, line % 2 == 1, 0);
    }
    EXPECT_LE(run.events().size(), 1000U);
    EXPECT_GT(run.jumps(), 1000);
}

}  // namespace
}  // namespace guardband::measure
