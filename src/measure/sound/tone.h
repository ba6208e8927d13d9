#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "measure/registry.h"
#include "measure/series.h"
#include "measure/sound/detector.h"
#include "measure/sound/parts.h"
#include "media/sound.h"
#include "quantity/figure.h"

namespace guardband::measure {

/// What is known before a test tone is measured, and how it is to be read.
struct ToneOptions {
    std::optional<double> nominal_hz;  ///< what was recorded
    Detector detector = Detector::TwoSigma;
    std::vector<Part> parts;                                                ///< of the transport; may be empty
    std::optional<int> channel;                                             ///< from 0; the clearest if absent
    std::function<void(double time_s, std::uint64_t bytes_read)> progress;  ///< may be empty
    SeriesSink series;  ///< a row for each value of the speed, as `tone_series_columns` names them
};

/// What a test tone showed.
struct ToneReport {
    media::SoundInfo info;
    int channel = 0;
    double start_s = 0, seconds = 0;  ///< of what was measured
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    std::string trouble;
};

/// Measures a test tone: `tone_frequency`, `speed_ratio`, `drift`, `wow_flutter_weighted`, `wow_unweighted`,
/// `flutter_unweighted`, `flutter_components`. The file is read twice: to find the tone, and to follow it for up to
/// half an hour; memory does not grow beyond that.
///
/// Bias of the flutter readings: below 1 % for a sine of 0.2 to 100 Hz and ±0.02 to ±3 % on a clean recording. Noise
/// under the tone reads as flutter too, with every meter; it is estimated from the tone's sidebands beyond 300 Hz, said
/// where it matters, and counted in the uncertainty. An error of the sampling clock shifts frequency and ratio, and
/// nothing else. What can't be told: whether a speed error or flutter came with recording or with playing.
/// @param open  opens the recording anew   @throws InputError if it has no tone, saying what it has instead
ToneReport measure_tone(const std::function<std::unique_ptr<media::SoundReader>()>& open, const ToneOptions& options);

/// Names of the figures for people, in the order of showing.
std::span<const FigureTitle> tone_titles();

/// Columns of the series, 2 to 4 thousand rows a second: time, speed against its mean.
std::span<const std::string_view> tone_series_columns();

}  // namespace guardband::measure
