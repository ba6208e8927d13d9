#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "measure/pulses/pulse_detector.h"
#include "measure/registry.h"
#include "measure/series.h"
#include "media/sound.h"
#include "quantity/figure.h"
#include "table/table.h"

namespace guardband::measure {

struct PulseOptions {
    Edge edge = Edge::Rising;
    std::optional<int> channel;                         ///< from 0; the one that swings most if absent
    const table::TapeFormat* playing_format = nullptr;  ///< the machine's, if its mode of playing is known
    const table::Mode* playing_mode = nullptr;
    SeriesSink series;  ///< a row a pulse, as `pulse_series_columns` names them
};

/// What a recording of pulses showed.
struct PulseReport {
    media::SoundInfo info;
    int channel = 0;
    PulseShape shape = PulseShape::TwoLevels;
    double seconds = 0;  ///< from the first pulse to the last
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    std::string trouble;
};

/// Measures control-track or tachometer pulses: `pulse_rate`, `pulse_jitter_rms`, `missing_pulses`, `extra_pulses`,
/// `jitter_components` and, where the machine's mode is known, `speed_ratio`, `tape_speed`, `address`. Where the rate
/// changes on the way, the figures are those of the longest stretch and every stretch is an event. The file is read
/// twice; memory grows by 8 bytes a pulse, up to four million of them.
/// @param open  opens the recording anew
/// @throws InputError if it holds no regular pulses, saying what it has instead
PulseReport measure_pulses(const std::function<std::unique_ptr<media::SoundReader>()>& open,
                           const PulseOptions& options);

/// Names of the figures for people, in the order of showing.
std::span<const FigureTitle> pulse_titles();

/// Columns of the series: time of the pulse, time since the one before.
std::span<const std::string_view> pulse_series_columns();

}  // namespace guardband::measure
