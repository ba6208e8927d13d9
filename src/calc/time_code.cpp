#include "calc/time_code.h"

#include <fmt/format.h>

#include <array>
#include <charconv>
#include <cmath>

#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::InputError;
using quantity::Rational;

constexpr std::array counted_rates{24, 25, 30, 50, 60};
constexpr int labels_dropped_at_30 = 2;  // each minute but every tenth; twice as many at 60
constexpr int minutes_per_ten = 10, minutes_per_day = 24 * 60;

bool is_slowed(const Rational& frames_hz) { return frames_hz.denominator() == 1001; }

std::int64_t labels_per_minute(const TimeCodeRate& rate) { return std::int64_t{60} * rate.counted; }

/// Frames in a minute that skips labels, and in ten minutes of which one does not.
std::int64_t frames_per_minute(const TimeCodeRate& rate) { return labels_per_minute(rate) - rate.dropped; }
std::int64_t frames_per_ten_minutes(const TimeCodeRate& rate) {
    return minutes_per_ten * labels_per_minute(rate) - (minutes_per_ten - 1) * rate.dropped;
}

/// One part of a time code: one or two digits.
std::optional<int> take_part(std::string_view& text) {
    int value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    const auto length = static_cast<std::size_t>(end - text.data());
    if (error != std::errc() || length == 0 || length > 2 || value < 0) return std::nullopt;
    text.remove_prefix(length);
    return value;
}

InputError no_time_code(std::string_view text, const std::string& input) {
    return {input, "\"" + std::string(text) + "\" is not a time code",
            "write hours, minutes, seconds and frames, such as 01:00:00:12, or 01:00:00;12 for drop-frame"};
}

void expect_in_range(const TimeCode& code, const TimeCodeRate& rate, const std::string& input) {
    const std::string given = "\"" + to_string(code) + "\"";
    if (code.hours > 23 || code.minutes > 59 || code.seconds > 59)
        throw InputError(input, given + " is no time of day", "hours end at 23, minutes and seconds at 59");
    if (code.frames >= rate.counted)
        throw InputError(input, given + " has no such frame at " + quantity::to_string(rate.frames_hz) + " frames/s",
                         fmt::format("frames run from 00 to {:02}", rate.counted - 1));
}

void expect_not_skipped(const TimeCode& code, const TimeCodeRate& rate, const std::string& input) {
    if (code.seconds != 0 || code.minutes % minutes_per_ten == 0 || code.frames >= rate.dropped) return;
    const TimeCode after{code.hours, code.minutes, 0, rate.dropped, true};
    const TimeCode before{code.hours, code.minutes - 1, 59, rate.counted - 1, true};
    throw InputError(input, "\"" + to_string(code) + "\" is skipped by drop-frame count",
                     fmt::format("after {} comes {}: use one of these, or write {}:{:02} if the tape counts without "
                                 "drop",
                                 to_string(before), to_string(after), to_string(code).substr(0, 8), code.frames));
}

}  // namespace

std::int64_t TimeCodeRate::frames_per_day() const {
    return minutes_per_day / minutes_per_ten * frames_per_ten_minutes(*this);
}

bool has_drop_frame(const Rational& frames_hz) { return is_slowed(frames_hz) && frames_hz.numerator() % 30000 == 0; }

TimeCodeRate time_code_rate(const Rational& frames_hz, bool drop) {
    const Rational counted = is_slowed(frames_hz) ? frames_hz * Rational(1001, 1000) : frames_hz;
    for (const int known : counted_rates) {
        if (counted != Rational(known)) continue;
        if (drop && !has_drop_frame(frames_hz))
            throw quantity::DomainError("drop-frame is for 30000/1001 and 60000/1001 frames a second only");
        return {frames_hz, known, drop ? labels_dropped_at_30 * known / 30 : 0};
    }
    throw quantity::DomainError("no time code counts this rate");
}

std::string to_string(const TimeCode& code) {
    return fmt::format("{:02}:{:02}:{:02}{}{:02}", code.hours, code.minutes, code.seconds, code.drop ? ';' : ':',
                       code.frames);
}

TimeCode parse_time_code(std::string_view text, const std::string& input) {
    std::string_view rest = text;
    std::array<int, 4> parts{};
    TimeCode code;
    for (std::size_t i = 0; i < parts.size(); ++i) {
        if (i > 0) {
            const char sign = rest.empty() ? ' ' : rest.front();
            const bool drops = i == parts.size() - 1 && (sign == ';' || sign == '.' || sign == ',');
            if (sign != ':' && !drops) throw no_time_code(text, input);
            code.drop = drops;
            rest.remove_prefix(1);
        }
        const auto part = take_part(rest);
        if (!part) throw no_time_code(text, input);
        parts.at(i) = *part;
    }
    if (!rest.empty()) throw no_time_code(text, input);
    code.hours = parts[0], code.minutes = parts[1], code.seconds = parts[2], code.frames = parts[3];
    return code;
}

TimeCode time_code_of(std::int64_t frame, const TimeCodeRate& rate) {
    if (frame < 0) throw quantity::DomainError("frames count from 0");
    frame %= rate.frames_per_day();
    // Put the skipped labels back in: those of the tens of minutes gone, then those of the minutes of this ten, of
    // which the first skips none.
    const std::int64_t tens = frame / frames_per_ten_minutes(rate), rest = frame % frames_per_ten_minutes(rate);
    std::int64_t label = frame + tens * (minutes_per_ten - 1) * rate.dropped;
    if (rest >= labels_per_minute(rate))
        label += rate.dropped * (1 + (rest - labels_per_minute(rate)) / frames_per_minute(rate));
    const auto part = [](std::int64_t value) { return static_cast<int>(value); };
    const std::int64_t second = label / rate.counted;
    return {part(second / 3600), part(second / 60 % 60), part(second % 60), part(label % rate.counted), rate.drops()};
}

std::int64_t frame_of(const TimeCode& code, const TimeCodeRate& rate, const std::string& input) {
    expect_in_range(code, rate, input);
    if (rate.drops()) expect_not_skipped(code, rate, input);
    const std::int64_t minutes = std::int64_t{60} * code.hours + code.minutes;
    const std::int64_t label = (60 * minutes + code.seconds) * rate.counted + code.frames;
    return label - rate.dropped * (minutes - minutes / minutes_per_ten);
}

}  // namespace guardband::calc
