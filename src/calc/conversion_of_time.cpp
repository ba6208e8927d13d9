// The part of a conversion that deals with times, time code and speeds.
#include <fmt/format.h>

#include <cmath>

#include "calc/converting.h"
#include "quantity/errors.h"

namespace guardband::calc {

using quantity::Dimension;
using quantity::InputError;
using quantity::Quantity;
using quantity::Unit;

void Converting::convert_time(const Quantity& given, const Unit& to) {
    const Unit& from = *given.unit;
    const double from_rate = basis_.per_second(from.dimension), to_rate = basis_.per_second(to.dimension);
    settle(given, {},
           [&](std::span<const double> x) { return x[0] * from.to_base / from_rate * to_rate / to.to_base; });
    explain("count of one clock to count of the other", "y = x u / r × q / w",
            fmt::format("{} × {:.12g} / {:.12g} × {:.12g} / {:.12g}", plain_number(given.value), from.to_base,
                        from_rate, to_rate, to.to_base),
            fmt::format("r {} and q {} a second; u and w what {} and {} are of these", dimension_word(from),
                        dimension_word(to), from.name, to.name));
    if (to.dimension == Dimension::Angle && std::abs(answer_.value * to.to_base) >= 360)
        answer_.remarks.push_back(fmt::format("{} whole turns of 360° and {}°.",
                                              std::trunc(answer_.value * to.to_base / 360),
                                              plain_number(std::fmod(answer_.value * to.to_base, 360))));
}

std::string Converting::dimension_word(const Unit& unit) {
    switch (unit.dimension) {
        case Dimension::Samples:
            return "samples";
        case Dimension::Lines:
            return "lines";
        case Dimension::Angle:
            return "degrees";
        case Dimension::Frames:
            return "frames";
        default:
            return "seconds";
    }
}

void Converting::convert_time_code(const ConversionEnd& from, const ConversionEnd& to) {
    if (from.is_time_code)
        read_time_code(to);
    else
        write_time_code(from);
}

bool Converting::writes_drop() { return !query_.counts_without_drop && has_drop_frame(basis_.frame_rate()); }

void Converting::write_time_code(const ConversionEnd& from) {
    const Quantity given = read(from);
    const TimeCodeRate rate = basis_.time_code(writes_drop());
    double frames = given.value * from.unit->to_base;
    if (from.unit->dimension != Dimension::Frames)
        frames = frames / basis_.per_second(from.unit->dimension) * rate.frames_hz.value();
    const double nearest = std::round(frames);
    constexpr double rounding = 1e-6;  // of a frame: what the arithmetic may leave of a whole one
    const bool is_whole = std::abs(frames - nearest) < rounding;
    if (from.unit->name == "frames" && !is_whole)
        throw InputError("VALUE", "\"" + query_.value + "\" is no whole number of frames", "give a whole number");
    if (frames < 0 || frames > 1e15)
        throw InputError("VALUE", "\"" + query_.value + "\" has no time code", "give 0 or more");
    const auto frame = static_cast<std::int64_t>(is_whole ? nearest : std::floor(frames));
    const TimeCode code = time_code_of(frame, rate);
    answer_.text = to_string(code);
    answer_.value = static_cast<double>(frame);
    answer_.also.emplace_back("frame", static_cast<double>(frame));
    if (!is_whole) answer_.remarks.push_back("The frame that stands at that moment; it began a little earlier.");
    if (frame >= rate.frames_per_day()) answer_.remarks.emplace_back("Past a day: time code began anew.");
    remark_rate(rate);
    explain_time_code(rate, fmt::format("frame {}", frame), answer_.text);
}

void Converting::read_time_code(const ConversionEnd& to) {
    const TimeCode code = parse_time_code(query_.value, "VALUE");
    const TimeCodeRate rate = basis_.time_code(code.drop);
    const std::int64_t frame = frame_of(code, rate, "VALUE");
    answer_.given = to_string(code);
    const auto frames = static_cast<double>(frame);
    const double per_second = to.unit->dimension == Dimension::Frames ? 1 : basis_.per_second(to.unit->dimension);
    // The true rate divides last, as a ratio of whole numbers, so that whole seconds come out whole.
    answer_.value = to.unit->dimension == Dimension::Frames
                        ? frames / to.unit->to_base
                        : frames * static_cast<double>(rate.frames_hz.denominator()) /
                              static_cast<double>(rate.frames_hz.numerator()) * per_second / to.unit->to_base;
    if (to.is_clock) answer_.text = clock_text(answer_.value);
    if (to.is_time_code) answer_.text = to_string(code);
    answer_.also.emplace_back("frame", frames);
    remark_rate(rate);
    explain_time_code(rate, answer_.given, fmt::format("frame {}", frame));
}

void Converting::remark_rate(const TimeCodeRate& rate) {
    answer_.remarks.push_back(rate.drops() ? fmt::format("Drop-frame: {} labels are skipped each minute but every "
                                                         "tenth.",
                                                         rate.dropped)
                                           : fmt::format("Every label is used, {} a second.", rate.counted));
}

void Converting::explain_time_code(const TimeCodeRate& rate, const std::string& given, const std::string& result) {
    std::vector<Given> givens{{"x", "the value", given, nullptr, "given"},
                              {"N", "labels a second", std::to_string(rate.counted), nullptr, "definition"},
                              {"d", "labels skipped each minute m, but not where 10 divides m",
                               std::to_string(rate.dropped), nullptr, "definition"}};
    givens.insert(givens.end(), basis_.givens().begin(), basis_.givens().end());
    answer_.working.push_back({"labels and frames, h hours, m minutes, s seconds, f frames",
                               "frame = (3600 h + 60 m + s) N + f - d (M - [M / 10]), M = 60 h + m", "", result,
                               std::move(givens), "rule of SMPTE 12M, from memory"});
}

void Converting::change_speed(const Quantity& recorded, const Quantity& played) {
    if (recorded.unit->dimension != played.unit->dimension)
        throw InputError("TO", "\"" + query_.to + "\" is no speed of the same kind as \"" + query_.from + "\"",
                         "give two tape speeds or two frame rates");
    const double a = recorded.value, b = played.in(*recorded.unit);
    if (!(a > 0 && b > 0)) throw InputError("FROM, TO", "a speed must be above 0", "give two speeds above 0");
    const Quantity time = read_duration();
    const SpeedChange change = speed_change(a, b);
    answer_.unit = time.unit->name;
    settle(time, {{a, recorded.uncertainty.value_or(0)}, {b, played.uncertainty_in(*recorded.unit).value_or(0)}},
           [](std::span<const double> x) { return x[0] * x[1] / x[2]; });
    const double seconds = quantity::converted(answer_.value, *time.unit, quantity::unit_named("s"));
    answer_.remarks.push_back(fmt::format("That is {} of running time.", clock_text(seconds)));
    answer_.remarks.push_back(fmt::format(
        "Speed {:+.4f} %, running time {:+.4f} %; sound {} by {:.1f} cents ({:.4f} semitones) if its pitch is left "
        "alone.",
        100 * (change.speed_ratio - 1), 100 * (change.time_ratio - 1), change.pitch_cents < 0 ? "falls" : "rises",
        std::abs(change.pitch_cents), std::abs(change.pitch_cents) / 100));
    answer_.also = {{"seconds", seconds},
                    {"speed_percent", 100 * (change.speed_ratio - 1)},
                    {"running_time_percent", 100 * (change.time_ratio - 1)},
                    {"pitch_cents", change.pitch_cents}};
    explain_speed(time, query_.from, query_.to, change);
}

Quantity Converting::read_duration() {
    Quantity time{0, std::nullopt, &quantity::unit_named("s")};
    if (const auto seconds = clock_seconds(query_.value)) {
        time.value = *seconds;
        answer_.given = query_.value;
    } else {
        time = quantity::parse_quantity(query_.value, *time.unit, "VALUE");
        answer_.given = with_spread(time.value, time.uncertainty) + " " + std::string(time.unit->name);
    }
    if (time.value < 0) throw InputError("VALUE", "a running time can't be negative", "give 0 or more");
    answer_.given += " from " + query_.from + " to " + query_.to;
    return time;
}

void Converting::explain_speed(const Quantity& time, const std::string& from, const std::string& to,
                               const SpeedChange& change) {
    const std::vector<Given> givens{{"x", "running time as recorded",
                                     plain_number(time.value) + " " + std::string(time.unit->name), nullptr, "given"},
                                    {"a", "speed as recorded", from, nullptr, "given"},
                                    {"b", "speed as played", to, nullptr, "given"}};
    answer_.working.push_back({"running time at the other speed", "y = x a / b",
                               fmt::format("{} × {} / {}", plain_number(time.value), from, to), result_text(), givens,
                               "the same frames, or the same tape"});
    answer_.working.push_back({"pitch of the sound, 100 cents a semitone",
                               "p = 1200 log2(b / a)",
                               fmt::format("1200 log2 {:.8g}", change.speed_ratio),
                               fmt::format("{:+.2f} cents", change.pitch_cents),
                               {},
                               "definition"});
}

}  // namespace guardband::calc
