#include "measure/waveform/waveform.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "measure/waveform/aligned_lines.h"
#include "measure/waveform/change_watch.h"
#include "measure/waveform/colour_burst.h"
#include "measure/waveform/data_lines.h"
#include "measure/waveform/first_look.h"
#include "measure/waveform/line_noise.h"
#include "measure/waveform/line_shape.h"
#include "measure/waveform/line_times.h"
#include "measure/waveform/multiburst.h"
#include "measure/waveform/signal_losses.h"
#include "measure/waveform/sync_reader.h"
#include "measure/waveform/test_lines.h"
#include "quantity/errors.h"

namespace guardband::measure {
namespace {

using quantity::Event;
using quantity::Figure;
using quantity::InputError;

constexpr std::array titles{
    WaveformTitle{{"tv_system", "", "TV system"}, "System"},
    WaveformTitle{{"colour", "", "Colour"}, "System"},
    WaveformTitle{{"lines_per_frame", "lines", "Lines per frame"}, "System"},
    WaveformTitle{{"interlace", "", "Interlace"}, "System"},
    WaveformTitle{{"line_rate", "Hz", "Line rate"}, "System"},
    WaveformTitle{{"field_rate", "Hz", "Field rate"}, "System"},
    WaveformTitle{{"sync_amplitude", "mV", "Sync, height"}, "Sync"},
    WaveformTitle{{"sync_width", "µs", "Sync, width"}, "Sync"},
    WaveformTitle{{"front_porch", "µs", "Front porch"}, "Sync"},
    WaveformTitle{{"burst_start", "µs", "Burst, start"}, "Burst"},
    WaveformTitle{{"burst_cycles", "", "Burst, cycles"}, "Burst"},
    WaveformTitle{{"burst_amplitude", "mV", "Burst, height"}, "Burst"},
    WaveformTitle{{"burst_swing", "deg", "Burst, swing"}, "Burst"},
    WaveformTitle{{"subcarrier_frequency", "Hz", "Subcarrier"}, "Burst"},
    WaveformTitle{{"subcarrier_red_frequency", "Hz", "Rest carrier, red"}, "Burst"},
    WaveformTitle{{"subcarrier_blue_frequency", "Hz", "Rest carrier, blue"}, "Burst"},
    WaveformTitle{{"subcarrier_to_sync_phase", "deg", "Subcarrier to sync"}, "Burst"},
    WaveformTitle{{"time_base_error_rms", "ns", "Time-base error"}, "Stability"},
    WaveformTitle{{"line_jitter_rms", "ns", "Jitter from line to line"}, "Stability"},
    WaveformTitle{{"time_base_components", "", "Speed components"}, "Stability"},
    WaveformTitle{{"head_switch_line", "lines", "Head switch before sync"}, "Stability"},
    WaveformTitle{{"skew", "µs", "Step at the head switch"}, "Stability"},
    WaveformTitle{{"dropouts_per_minute", "", "Dropouts in a minute"}, "Damage"},
    WaveformTitle{{"dropout_length_median", "µs", "Their middle length"}, "Damage"},
    WaveformTitle{{"luma_snr", "dB", "S/N of luminance"}, "Noise"},
    WaveformTitle{{"luma_snr_weighted", "dB", "S/N, weighted"}, "Noise"},
    WaveformTitle{{"luma_nonlinearity", "%", "Non-linearity"}, "Test lines"},
    WaveformTitle{{"differential_gain", "%", "Differential gain"}, "Test lines"},
    WaveformTitle{{"differential_phase", "deg", "Differential phase"}, "Test lines"},
    WaveformTitle{{"k_factor_2t", "%", "K factor of the 2T pulse"}, "Test lines"},
    WaveformTitle{{"chroma_luma_gain", "%", "Chroma against luma, gain"}, "Test lines"},
    WaveformTitle{{"chroma_luma_delay", "ns", "Chroma against luma, delay"}, "Test lines"},
    WaveformTitle{{"data_lines", "", "Data"}, "Data lines"},
    WaveformTitle{{"multiburst", "dB", "Multiburst"}, "Test lines"},
    WaveformTitle{{"multiburst_1", "dB", "1st burst"}, "Test lines"},
    WaveformTitle{{"multiburst_2", "dB", "2nd burst"}, "Test lines"},
    WaveformTitle{{"multiburst_3", "dB", "3rd burst"}, "Test lines"},
    WaveformTitle{{"multiburst_4", "dB", "4th burst"}, "Test lines"},
    WaveformTitle{{"multiburst_5", "dB", "5th burst"}, "Test lines"},
    WaveformTitle{{"multiburst_6", "dB", "6th burst"}, "Test lines"},
};

/// Levels above blanking that the table gives a system, mV; 0 if it gives none.
struct NominalLevels {
    double sync_mv = 0, white_mv = 0;
};

NominalLevels levels_in(const table::Facts& facts) {
    const auto level = [&](const char* key) {
        const table::Fact* fact = facts.known(key);
        return fact == nullptr ? 0 : std::abs(fact->in("mV"));
    };
    return {level("sync_level"), level("white_level")};
}

/// Of the colour system, else of any on the same scanning standard, else of that itself.
NominalLevels nominal_levels(const FirstLook& look, const table::Table& table) {
    if (look.colour.colour != nullptr) return levels_in(look.colour.colour->facts);
    if (look.scanning == nullptr) return {};
    for (const table::Colour& colour : table.colours)
        if (colour.scanning == look.scanning->id) return levels_in(colour.facts);
    return levels_in(look.scanning->facts);
}

bool is_secam(const ColourFinding& colour) {
    return colour.colour != nullptr && colour.colour->facts.known("subcarrier_red") != nullptr;
}

/// The subcarrier of chrominance that can be measured in height and phase; 0 if there is none.
double chroma_hz(const FirstLook& look) { return is_secam(look.colour) ? 0 : look.colour.subcarrier_hz; }

/// Everything that looks at lines in the main pass.
class Measurements final : public LineSink {
public:
    Measurements(const FirstLook& look, double rate_hz, double scaled_us, double white)
        : look_(look),
          layout_(layout_of(look.scanning)),
          shape_(layout_, rate_hz, scaled_us, look.sync.depth),
          times_(layout_, rate_hz, look.sync),
          aligned_(layout_, rate_hz, look.sync.line_samples, chroma_hz(look)),
          data_(look.scanning, rate_hz, look.sync.depth),
          losses_(layout_, rate_hz, look.sync, white, look.lines_per_frame.value_or(0), is_secam(look.colour) ? 2 : 1) {
        if (!look.colour.has_burst() || look.colour.colour == nullptr) return;
        if (is_secam(look.colour))
            rest_.emplace(look.colour, rate_hz, layout_.blanking_end);
        else
            burst_.emplace(look.colour, rate_hz, layout_.blanking_end);
    }

    void see_line(const VideoLine& line, const SampleWindow& window) override {
        ++lines_;
        period_ = line.period;
        times_.see_line(line);
        shape_.see_line(line, window);
        if (burst_) burst_->see_line(line, window);
        if (rest_) rest_->see_line(line, window);
        aligned_.see_line(line, window);
        data_.see_line(line, window);
        losses_.see_line(line, window);
    }
    void see_field(const FieldStart& field) override { fields_.see_field(field, period_); }

    void write_series(SeriesSink sink) { times_.write_series(std::move(sink)); }
    std::int64_t lines() const { return lines_; }
    std::int64_t fields() const { return fields_.fields(); }
    void finish(WaveformReport& report, const table::Table& table, std::optional<double> mv_per_unit);

private:
    void add_colour(quantity::Figures& figures, const table::Table& table, double line_hz, double mv) const;

    const FirstLook& look_;
    FieldLayout layout_;
    FieldCount fields_;
    LineShape shape_;
    LineTimes times_;
    AlignedLines aligned_;
    DataLines data_;
    SignalLosses losses_;
    std::optional<ColourBurst> burst_;
    std::optional<RestCarriers> rest_;
    double period_ = 1;
    std::int64_t lines_ = 0;
};

void Measurements::add_colour(quantity::Figures& figures, const table::Table& table, double line_hz, double mv) const {
    const ColourFinding& colour = look_.colour;
    const bool can_have = look_.scanning != nullptr && std::ranges::any_of(table.colours, [&](const table::Colour& c) {
                              return c.scanning == look_.scanning->id;
                          });
    if (look_.scanning == nullptr)
        figures.add("colour", Figure::unknown("the TV system is not known"));
    else if (colour.colour != nullptr)
        figures.add("colour", Figure::text(colour.colour->id));
    else if (!colour.why.empty())
        figures.add("colour", Figure::unknown(colour.why));
    else
        figures.add("colour",
                    Figure::text("none").with_note(can_have ? "no burst on the back porch" : "the system has none"));
    if (burst_) return burst_->finish(figures, line_hz, mv);
    if (rest_) {
        rest_->finish(figures, mv);
        for (const char* id : {"subcarrier_frequency", "burst_start", "burst_cycles", "subcarrier_to_sync_phase"})
            figures.add(id, Figure::unknown("SECAM has two subcarriers that are modulated in frequency, and no burst"));
        return;
    }
    for (const char* id :
         {"subcarrier_frequency", "burst_start", "burst_cycles", "burst_amplitude", "subcarrier_to_sync_phase"})
        figures.add(id, Figure::unknown("there is no burst"));
}

void Measurements::finish(WaveformReport& report, const table::Table& table, std::optional<double> given_mv) {
    quantity::Figures& figures = report.figures;
    if (look_.scanning != nullptr)
        figures.add("tv_system", Figure::text(look_.scanning->id));
    else
        figures.add("tv_system",
                    Figure::unknown(look_.lines_per_frame
                                        ? fmt::format("{} lines at {:.1f} lines a second fit no scanning standard",
                                                      *look_.lines_per_frame, look_.line_hz)
                                        : "no field sync was found to count lines by"));
    times_.finish(figures);
    const Figure* rate = figures.find("line_rate");
    const double line_hz = rate->number().value_or(look_.line_hz), u_hz = rate->uncertainty().value_or(1);
    fields_.finish(figures, line_hz, u_hz);
    shape_.finish(figures, given_mv.value_or(0));
    const NominalLevels levels = nominal_levels(look_, table);
    const double mv = given_mv ? *given_mv : shape_.depth() > 0 ? levels.sync_mv / shape_.depth() : 0;
    add_colour(figures, table, line_hz, mv);
    const double white = mv > 0 ? levels.white_mv / mv : 0;
    losses_.finish(figures, report.events, times_.head_switch_line());
    const double noise_variance = add_noise(figures, aligned_, white, look_.scanning);
    add_test_lines(figures, aligned_, white, noise_variance, look_.scanning);
    data_.finish(figures, report.events);
    add_multiburst(figures, aligned_, white, noise_variance);
}

/// Full scale is ±1 in the samples as they are read; a unit of the user's is one step of the file's codes.
double steps_of_full_scale(const media::SoundInfo& info) {
    if (info.codec.find("f32") != std::string::npos || info.codec.find("f64") != std::string::npos) return 1;
    for (const auto& [word, bits] : {std::pair{"8", 7}, std::pair{"16", 15}, std::pair{"24", 23}, std::pair{"32", 31}})
        if (info.codec.find(word) != std::string::npos) return std::ldexp(1.0, bits);
    return 1;
}

/// Samples at an end of the scale, where what lies beyond was cut off.
std::int64_t count_at_ends(std::span<const float> samples, float top) {
    return std::ranges::count_if(samples, [top](float sample) { return sample >= top || sample <= -1.0F; });
}

constexpr double least_clipped_share = 1e-4;

void add_clipping_event(WaveformReport& report, std::int64_t clipped) {
    const double share = static_cast<double>(clipped) / (report.seconds * report.info.sample_rate_hz);
    if (!(share > least_clipped_share)) return;
    Event event;
    event.kind = "clipped";
    event.severity = quantity::Severity::Warning;
    event.count = clipped;
    event.what =
        fmt::format("{:.2g} % of the samples lie at an end of the scale: lower the digitiser's gain", 100 * share);
    report.events.push_back(event);
}

void add_loss_event(WaveformReport& report, const LineClock& clock) {
    if (clock.lost_lines() == 0 && clock.restarts() == 0) return;
    Event event;
    event.kind = "lines without sync";
    event.severity = quantity::Severity::Warning;
    event.count = clock.lost_lines();
    event.what = fmt::format("{} lines without sync in all; the count began anew {} times", clock.lost_lines(),
                             clock.restarts());
    report.events.push_back(event);
}

}  // namespace

WaveformReport measure_waveform(const std::function<std::unique_ptr<media::SoundReader>()>& open,
                                const WaveformOptions& options, const table::Table& table) {
    WaveformReport report;
    const auto first_pass = open();
    report.info = first_pass->info();
    report.channel = options.channel.value_or(0);
    if (report.channel >= report.info.channels)
        throw InputError(report.info.path, fmt::format("has {} channel(s)", report.info.channels),
                         "name one of them with --channel, the first is 1");
    const auto channel = static_cast<std::size_t>(report.channel);
    const FirstLook look = first_look(*first_pass, channel, table);
    report.inverted = look.sync.inverted;
    report.scanning = look.scanning == nullptr ? "" : look.scanning->id;

    const double rate_hz = report.info.sample_rate_hz;
    const NominalLevels levels = nominal_levels(look, table);
    const double white = levels.sync_mv > 0 ? look.sync.depth * levels.white_mv / levels.sync_mv : 0;
    Measurements measurements(look, rate_hz, scaled_us(look.sync, rate_hz), white);
    measurements.write_series(options.series);
    SyncReader reader(look.sync, rate_hz, measurements);
    const auto samples = open();
    const double steps = steps_of_full_scale(report.info);
    const auto top = steps > 1 ? static_cast<float>(1 - 1 / steps) : std::numeric_limits<float>::max();
    std::int64_t clipped = 0;
    ChangeWatch watch(look, report.info, table);
    while (const media::SoundBlock* block = samples->next()) {
        reader.see(block->channels[channel]);
        watch.see(block->channels[channel], reader.clock());
        if (steps > 1) clipped += count_at_ends(block->channels[channel], top);
        report.seconds = block->time_s + static_cast<double>(block->channels[channel].size()) / rate_hz;
        if (options.progress) options.progress(report.seconds, samples->bytes_read());
    }
    reader.finish();
    report.trouble = samples->trouble();
    report.lines = measurements.lines();
    report.fields = measurements.fields();
    std::optional<double> mv;
    if (options.millivolts_per_unit) mv = *options.millivolts_per_unit * steps;
    measurements.finish(report, table, mv);
    add_clipping_event(report, clipped);
    add_loss_event(report, reader.clock());
    report.events.insert(report.events.begin(), watch.events().begin(), watch.events().end());
    return report;
}

std::span<const WaveformTitle> waveform_titles() { return titles; }

std::span<const std::string_view> waveform_series_columns() { return LineTimes::series_columns; }

}  // namespace guardband::measure
