#include "measure/waveform/first_look.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>
#include <utility>

#include "measure/waveform/field_layout.h"
#include "measure/waveform/sync_reader.h"
#include "quantity/errors.h"

namespace guardband::measure {
namespace {

using quantity::InputError;

constexpr double stretch_s = 0.25;
constexpr double shortest_s = 4e-3;     ///< less can't be told from anything
constexpr double lowest_rate_hz = 5e6;  ///< below it a burst can't be, and sync hardly
/// Of the range of ±1: a step that is none of a signal's; and the share of samples that a few disturbances may take.
constexpr float least_wrap = 1.6F;
constexpr double most_wraps = 5e-4;
constexpr double tried_rates_hz[] = {16e6, 28e6, 48e6};

class Onlooker final : public LineSink {
public:
    Onlooker(double rate_hz) : porches_(rate_hz, layout_of(nullptr).blanking_end) {}
    void see_line(const VideoLine& line, const SampleWindow& window) override {
        period_ = line.period;
        if (first_number_ < 0) first_number_ = line.number, first_lead_ = line.sync.lead;
        last_number_ = line.number;
        last_lead_ = line.sync.lead;
        porches_.see_line(line, window);
    }
    void see_field(const FieldStart& field) override { fields_.see_field(field, period_); }

    const FieldCount& fields() const { return fields_; }
    const std::vector<BackPorch>& porches() const { return porches_.porches(); }
    std::int64_t lines() const { return last_number_ - first_number_; }
    double line_samples() const { return (last_lead_ - first_lead_) / static_cast<double>(lines()); }

private:
    FieldCount fields_;
    PorchCollector porches_;
    double period_ = 1, first_lead_ = 0, last_lead_ = 0;
    std::int64_t first_number_ = -1, last_number_ = -1;
};

/// The next stretch of samples; shorter at the end.
std::vector<float> next_stretch(media::SoundReader& samples, std::size_t channel, std::size_t length) {
    std::vector<float> stretch;
    while (stretch.size() < length) {
        const media::SoundBlock* block = samples.next();
        if (block == nullptr) break;
        const std::vector<float>& from = block->channels[channel];
        stretch.insert(stretch.end(), from.begin(), from.end());
    }
    return stretch;
}

/// Rates that would make lines of so many samples those of a system of the table.
std::string likely_rates(const table::Table& table, double line_samples) {
    std::string text;
    for (const char* id : {"625/50", "525/60"})
        if (const table::Scanning* scanning = table.find_scanning(id))
            text += fmt::format("{}{:.4g} MHz if it is {}", text.empty() ? "" : ", ",
                                line_samples * scanning->line_rate().value() / 1e6, id);
    return text;
}

[[noreturn]] void rate_is_wrong(const media::SoundInfo& info, const table::Table& table, double line_samples) {
    throw InputError(info.path,
                     fmt::format("at {:.6g} MHz its lines come {:.6g} times a second, as in no system",
                                 info.sample_rate_hz / 1e6, info.sample_rate_hz / line_samples),
                     "give the true rate with --rate, or --samples as they are: " + likely_rates(table, line_samples));
}

/// The layout of bare samples whose sign is taken the other way; empty for others.
std::string other_sign(const media::SoundInfo& info) {
    constexpr std::array<std::pair<std::string_view, std::string_view>, 4> pairs{
        {{"u8", "s8"}, {"s8", "u8"}, {"u16", "s16"}, {"s16", "u16"}}};
    if (info.container != "samples") return {};
    const auto found = std::ranges::find(pairs, info.codec, &std::pair<std::string_view, std::string_view>::first);
    return found == pairs.end() ? std::string() : std::string(found->second);
}

/// Samples whose sign is taken the wrong way jump from one end of their range to the other wherever the signal passes
/// its middle; no video does that.
void expect_sign(const std::vector<float>& stretch, const media::SoundInfo& info) {
    const std::string other = other_sign(info);
    if (other.empty()) return;
    std::size_t jumps = 0;
    for (std::size_t i = 1; i < stretch.size(); ++i)
        jumps += std::abs(stretch[i] - stretch[i - 1]) > least_wrap ? 1 : 0;
    if (static_cast<double>(jumps) > most_wraps * static_cast<double>(stretch.size()))
        throw InputError(
            info.path,
            fmt::format("read as {}, jumps from one end of its range to the other as no signal does", info.codec),
            "try --samples " + other);
}

/// Why there are no lines; or, if there are at another rate, that the rate is wrong.
[[noreturn]] void no_lines(const media::SoundInfo& info, const table::Table& table, const std::vector<float>& stretch) {
    const double seconds = static_cast<double>(stretch.size()) / info.sample_rate_hz;
    if (seconds < shortest_s)
        throw InputError(info.path, fmt::format("holds only {:.3g} ms of samples", 1e3 * seconds),
                         "record half a second or more");
    for (const double rate_hz : tried_rates_hz)
        if (const auto shape = find_sync(stretch, rate_hz); shape && shape->has_field_sync())
            rate_is_wrong(info, table, shape->line_samples);
    if (info.sample_rate_hz < lowest_rate_hz)
        throw InputError(info.path, fmt::format("{:g} kHz is no rate for samples of video", info.sample_rate_hz / 1e3),
                         "give the digitiser's with --rate: 16MHz");
    throw InputError(info.path, "shows no line sync, but " + describe_without_sync(stretch),
                     "record composite video for half a second or more, at 10 MHz or faster");
}

FirstLook look(const std::vector<float>& stretch, const SyncShape& shape, const media::SoundInfo& info,
               const table::Table& table) {
    const double rate_hz = info.sample_rate_hz;
    Onlooker onlooker(rate_hz);
    SyncReader reader(shape, rate_hz, onlooker);
    reader.see(stretch);
    reader.finish();
    FirstLook found;
    found.sync = shape;
    found.line_hz = rate_hz / (onlooker.lines() > 0 ? onlooker.line_samples() : shape.line_samples);
    found.lines_per_frame = onlooker.fields().lines_per_frame();
    found.scanning = scanning_of(table, found.lines_per_frame, found.line_hz);
    if (found.scanning != nullptr)
        found.colour = find_colour(onlooker.porches(), table, *found.scanning, rate_hz, found.line_hz, shape.depth);
    return found;
}

/// Has it a number of lines that no system has? Then it is something of its own, and not read at a wrong rate. Without
/// field sync only lines of a known rate are taken for lines.
bool is_of_its_own(const FirstLook& found, const table::Table& table) {
    return found.lines_per_frame && std::ranges::none_of(table.scannings, [&](const table::Scanning& scanning) {
               return scanning.lines().value() == *found.lines_per_frame;
           });
}

}  // namespace

std::optional<FirstLook> look_at(const std::vector<float>& stretch, const media::SoundInfo& info,
                                 const table::Table& table) {
    const auto shape = find_sync(stretch, info.sample_rate_hz);
    if (!shape) return std::nullopt;
    return look(stretch, *shape, info, table);
}

FirstLook first_look(media::SoundReader& samples, std::size_t channel, const table::Table& table) {
    const media::SoundInfo& info = samples.info();
    const bool slow = info.sample_rate_hz < lowest_rate_hz;
    const auto length = static_cast<std::size_t>(stretch_s * (slow ? tried_rates_hz[0] : info.sample_rate_hz));
    std::vector<float> first;
    while (true) {
        std::vector<float> stretch = next_stretch(samples, channel, length);
        if (stretch.empty()) break;
        if (first.empty()) expect_sign(stretch, info);
        if (!slow)
            if (const auto shape = find_sync(stretch, info.sample_rate_hz)) {
                FirstLook found = look(stretch, *shape, info, table);
                if (found.scanning != nullptr || is_of_its_own(found, table)) return found;
                rate_is_wrong(info, table, shape->line_samples);
            }
        if (first.empty()) first = std::move(stretch);
        if (slow) break;
    }
    no_lines(info, table, first);
}

}  // namespace guardband::measure
