#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "measure/registry.h"
#include "measure/series.h"
#include "media/sound.h"
#include "quantity/figure.h"
#include "table/table.h"

namespace guardband::measure {

struct WaveformOptions {
    std::optional<int> channel;                 ///< from 0; the first if absent
    std::optional<double> millivolts_per_unit;  ///< of a step of the codes, of FLAC and floats: of full scale; levels
                                                ///< go by sync if absent
    std::function<void(double time_s, std::uint64_t bytes_read)> progress;
    SeriesSink series;  ///< a row a line, as `waveform_series_columns` names them
};

/// What a recording of composite video showed.
struct WaveformReport {
    media::SoundInfo info;
    int channel = 0;
    bool inverted = false;
    double seconds = 0;      ///< read
    std::int64_t lines = 0;  ///< counted
    std::int64_t fields = 0;
    std::string scanning;  ///< id; empty if it fits none
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    std::string trouble;
};

/// Measures sampled composite video. The first stretch that shows line sync tells polarity, levels, TV system and
/// colour; then the recording is read from its start to its end. Memory does not grow with its length, but for 4 bytes
/// a line of the first minute.
/// @param open  opens the recording anew
/// @throws InputError if it holds no line sync, saying what it has instead
WaveformReport measure_waveform(const std::function<std::unique_ptr<media::SoundReader>()>& open,
                                const WaveformOptions& options, const table::Table& table);

/// A figure of a waveform with the group it is shown in.
struct WaveformTitle {
    FigureTitle title;
    std::string_view group;
};

/// Names of the figures for people, in the order of showing.
std::span<const WaveformTitle> waveform_titles();

/// Columns of the series: time of line sync, number of the line, field, line of the field, how far the line lies to the
/// right of the best constant rate of its second, width of sync, whether the line counts for the time-base error.
std::span<const std::string_view> waveform_series_columns();

}  // namespace guardband::measure
