#include "calc/time_code.h"

#include <gmock/gmock.h>

extern "C" {
#include <libavutil/timecode.h>
}

#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::DomainError;
using quantity::InputError;
using quantity::Rational;
using testing::AllOf;
using testing::HasSubstr;
using testing::ThrowsMessage;

struct Case {
    const char* name;
    Rational frames_hz;
    bool drop;
};

std::ostream& operator<<(std::ostream& out, const Case& c) { return out << c.name; }

class AllOfADay : public testing::TestWithParam<Case> {};

AVRational av_rate(const Rational& rate) {
    return {static_cast<int>(rate.numerator()), static_cast<int>(rate.denominator())};
}

int av_flags(const TimeCodeRate& rate) { return rate.drops() ? AV_TIMECODE_FLAG_DROPFRAME : 0; }

/// The label by libavutil's own adjustment for drop-frame.
TimeCode by_libavutil(int frame, const TimeCodeRate& rate) {
    const int label = rate.drops() ? av_timecode_adjust_ntsc_framenum2(frame, rate.counted) : frame;
    const int second = label / rate.counted;
    return {second / 3600, second / 60 % 60, second % 60, label % rate.counted, rate.drops()};
}

/// The frame by libavutil's reading of a label; negative if it refuses.
int frame_by_libavutil(const TimeCode& code, const TimeCodeRate& rate) {
    AVTimecode made{};
    const int refused = av_timecode_init_from_components(&made, av_rate(rate.frames_hz), av_flags(rate), code.hours,
                                                         code.minutes, code.seconds, code.frames, nullptr);
    return refused < 0 ? refused : made.start;
}

// Independent reference: FFmpeg's libavutil, timecode.h.
TEST_P(AllOfADay, AgreesWithLibavutilBothWays) {
    const TimeCodeRate rate = time_code_rate(GetParam().frames_hz, GetParam().drop);
    const auto frames = static_cast<int>(rate.frames_per_day());
    int labels_off = 0, frames_off = 0, not_back = 0;
    for (int frame = 0; frame < frames; ++frame) {
        const TimeCode code = time_code_of(frame, rate);
        labels_off += code != by_libavutil(frame, rate);
        frames_off += frame_by_libavutil(code, rate) != frame;
        not_back += frame_of(code, rate, "test") != frame;
    }
    EXPECT_EQ(labels_off, 0);
    EXPECT_EQ(frames_off, 0);
    EXPECT_EQ(not_back, 0);
    EXPECT_EQ(time_code_of(frames, rate), time_code_of(0, rate)) << "a new day begins anew";
}

TEST_P(AllOfADay, IsWrittenAsLibavutilWritesIt) {
    const TimeCodeRate rate = time_code_rate(GetParam().frames_hz, GetParam().drop);
    AVTimecode made{};
    ASSERT_EQ(av_timecode_init(&made, av_rate(rate.frames_hz), av_flags(rate), 0, nullptr), 0);
    constexpr int step = 997;  // a prime, so that every part of the label takes all its values
    for (std::int64_t frame = 0; frame < rate.frames_per_day(); frame += step) {
        char text[AV_TIMECODE_STR_SIZE];
        av_timecode_make_string(&made, text, static_cast<int>(frame));
        const TimeCode code = time_code_of(frame, rate);
        ASSERT_EQ(to_string(code), text) << frame;
        ASSERT_EQ(parse_time_code(text, "test"), code);
    }
}

const Case cases[] = {{"film", {24}, false},
                      {"film_slowed", {24000, 1001}, false},
                      {"r25", {25}, false},
                      {"r29_97_drop", {30000, 1001}, true},
                      {"r29_97", {30000, 1001}, false},
                      {"r30", {30}, false},
                      {"r50", {50}, false},
                      {"r59_94_drop", {60000, 1001}, true},
                      {"r59_94", {60000, 1001}, false},
                      {"r60", {60}, false}};
INSTANTIATE_TEST_SUITE_P(Rates, AllOfADay, testing::ValuesIn(cases),
                         [](const auto& param) { return std::string(param.param.name); });

TEST(TimeCode, RefusesEveryLabelThatDropFrameSkipsAndNoOther) {
    for (const int times : {1, 2}) {
        const TimeCodeRate rate = time_code_rate(Rational(30000 * times, 1001), true);
        int refused = 0, accepted = 0;
        for (int minute = 0; minute < 24 * 60; ++minute)
            for (int frame = 0; frame < rate.counted; ++frame) {
                try {
                    frame_of({minute / 60, minute % 60, 0, frame, true}, rate, "VALUE");
                    ++accepted;
                } catch (const InputError& e) {
                    ++refused;
                    EXPECT_LT(frame, 2 * times) << e.what();
                    EXPECT_NE(minute % 10, 0) << e.what();
                }
            }
        EXPECT_EQ(refused, 24 * 54 * 2 * times) << "54 minutes of each hour skip";
        EXPECT_EQ(accepted + refused, 24 * 60 * rate.counted);
    }
}

TEST(TimeCode, SaysWhatStandsOnBothSidesOfTheGap) {
    const TimeCodeRate rate = time_code_rate({30000, 1001}, true);
    EXPECT_THAT(
        [&] {
            frame_of({1, 1, 0, 1, true}, rate, "VALUE");
        },
        ThrowsMessage<InputError>(AllOf(HasSubstr("VALUE"), HasSubstr("01:00:59;29"), HasSubstr("01:01:00;02"),
                                        HasSubstr("01:01:00:01 if the tape counts without drop"))));
}

TEST(TimeCode, RefusesWhatIsNoLabel) {
    for (const char* text : {"", "1", "01:00:00", "01:00:00:00:00", "01:00:00;00x", "aa:00:00:00", "01:00:00:-1",
                             "001:00:00:00", "01;00:00:00", ":00:00:00"})
        EXPECT_THROW(parse_time_code(text, "VALUE"), InputError) << text;
    const TimeCodeRate rate = time_code_rate({25}, false);
    EXPECT_THAT(
        [&] {
            frame_of({0, 0, 0, 25, false}, rate, "VALUE");
        },
        ThrowsMessage<InputError>(HasSubstr("00 to 24")));
    EXPECT_THROW(frame_of({24, 0, 0, 0, false}, rate, "VALUE"), InputError);
    EXPECT_THROW(frame_of({0, 60, 0, 0, false}, rate, "VALUE"), InputError);
    EXPECT_THROW(frame_of({0, 0, 60, 0, false}, rate, "VALUE"), InputError);
}

TEST(TimeCode, KnowsItsRates) {
    EXPECT_THROW(time_code_rate(Rational(25, 2), false), DomainError);
    EXPECT_THROW(time_code_rate({25}, true), DomainError);
    EXPECT_THROW(time_code_rate({24000, 1001}, true), DomainError);
    EXPECT_THROW(time_code_of(-1, time_code_rate({25}, false)), DomainError);
    EXPECT_EQ(time_code_rate({30000, 1001}, true).frames_per_day(), 2589408) << "SMPTE 12M, from memory";
}

}  // namespace
}  // namespace guardband::calc
