#include "measure/clip/picture_noise.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <span>

#include "dsp/robust.h"
#include "measure/clip/noise_fit.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr double reference_codes = 219;  // from black to white: the contract's definition of the figure
/// Blocks looked at in each of the first frames, and in later ones: the first alone make the figure sure.
constexpr int early_blocks = 16, later_blocks = 3;
constexpr std::int64_t early_frames = 40;
constexpr std::size_t most_samples = 4000;
/// Left out at the sides, where blanking may be, at the top, where lines may be bent, and at the bottom, below the head
/// switch.
constexpr int side_margin = 24, top_lines = 10, bottom_lines = 14;
constexpr int chroma_samples = 2 * FieldBlock::samples;  // a block of chroma lies below so many of luma
constexpr double most_cut = 0.04;
/// Of the variance that rounding adds: less than this is rounding alone.
constexpr double rounding_alone = 1.6;
/// Blocks that have moved less than this, in samples, stand still.
constexpr float still = 0.08F;
constexpr std::size_t fewest_still = 24;
constexpr double most_over_two = 1.06, suspicious_over_two = 1.03;
/// Standard errors by which it must be more.
constexpr double surely = 4;
/// No smearing makes it more; motion does, where fields were repeated.
constexpr float most_of_two = 2.6F;
/// Of one block's ratio, and of a median's error to that of a mean.
constexpr double ratio_scatter = 0.17 * 1.25;
/// Of the noise, what motion of a block may add to it where lines are compared.
constexpr float quite_still = 0.03F;
/// Likeness of lines from which on it is said.
constexpr float least_alike = 0.15F;
/// Blocks whose height is off by this part of a line or more are compared with frames further back, and one of these is
/// taken if the lines that were searched with differ by no more than this share.
constexpr float part_of_line = 0.06F, worth_while = 0.9F;
/// The noise is lost in detail that could not be followed if it is less than this share of what the calmest blocks
/// show.
constexpr double least_share = 0.3;
/// Of the noise in the middle of the range, for the ends to be compared with it.
constexpr double most_doubt = 0.15;
/// Neither window nor search know noise better than this, dB.
constexpr double systematic_db = 0.15;

double snr_db(double variance) { return 10 * std::log10(reference_codes * reference_codes / variance); }

double rounding_variance(int bit_depth) {
    const double step = 1.0 / (1 << (bit_depth - 8));
    return step * step / 12;
}

double error_db(const NoiseFit& fit) {
    return std::hypot(10 / std::log(10.0) * fit.error / fit.variance, systematic_db);
}

/// Evenly spread over 0 to 1, however many there are: multiples of the plastic number's inverse powers.
double spread_over(std::int64_t n, double step) {
    double whole = 0;
    return std::modf(0.5 + static_cast<double>(n) * step, &whole);
}

constexpr const char* too_little = "fewer than a dozen places of the picture could be compared from frame to frame";
constexpr const char* no_noise =
    "no noise beyond the rounding of the samples: a processor removed it, or the pictures never were on a tape";
constexpr const char* lost_in_detail = "noise can't be told from detail that moves in a way that could not be followed";

/// What both kinds of figure ask of a fit; nothing if all is well.
std::optional<Figure> objection(const std::optional<NoiseFit>& fit, double rounding) {
    if (!fit) return Figure::unknown(too_little);
    if (fit->at_least_detail < rounding_alone * rounding) return Figure::unknown(no_noise);
    if (fit->variance < least_share * fit->at_least_detail) return Figure::unknown(lost_in_detail);
    return std::nullopt;
}

}  // namespace

PictureNoise::PictureNoise(const ClipContext& context)
    : format_(context.info.picture),
      usable_(format_.width >= 2 * (side_margin + chroma_samples) && format_.height >= 96),
      is_lossy_(context.info.is_lossy),
      lowest_code_(1 << format_.bit_depth),
      highest_code_(-1),
      crushing_(context),
      search_(format_.bit_depth),
      meter_(format_.bit_depth) {}

void PictureNoise::see(const media::Frame& frame, const FrameFeatures& features) {
    if (!usable_) return;
    if (frame.damaged) {
        kept_ = {};
        return;
    }
    note_codes(features);
    crushing_.see(frame, features);
    if (kept_[0] && frames_++ % every_ == 0) {
        const int count = frames_ <= early_frames ? early_blocks : later_blocks;
        for (int i = 0; i < count; ++i, ++blocks_) {
            // A field that repeats the one before says nothing, or would say that there is no noise.
            if (features.has_previous && features.identical[static_cast<std::size_t>(blocks_ % 2)]) continue;
            measure_block(frame);
        }
        if (samples_.size() >= most_samples) thin_out();
    }
    std::rotate(kept_.begin(), kept_.end() - 1, kept_.end());
    kept_[0] = frame;  // shares the samples
}

/// A long clip is looked at ever more sparsely, so that all of it counts alike and no more memory is taken.
void PictureNoise::thin_out() {
    for (std::size_t i = 0; 2 * i < samples_.size(); ++i) samples_[i] = samples_[2 * i];
    samples_.resize(samples_.size() / 2);
    every_ *= 2;
}

void PictureNoise::note_codes(const FrameFeatures& features) {
    const auto count = static_cast<int>(features.histogram.size());
    const auto used = [&](int code) { return features.histogram[static_cast<std::size_t>(code)] > 0; };
    int low = 0, high = count - 1;
    while (low < std::min(count, lowest_code_) && !used(low)) ++low;
    while (high > highest_code_ && !used(high)) --high;
    lowest_code_ = std::min(lowest_code_, low), highest_code_ = std::max(highest_code_, high);
}

FieldBlock PictureNoise::next_block() {
    constexpr int reach = BlockSearch::reach_samples;
    const int left = side_margin + reach, right = format_.width - side_margin - reach - chroma_samples;
    const int top = top_lines + BlockSearch::reach_lines,
              bottom = format_.height / 2 - bottom_lines - BlockSearch::reach_lines - FieldBlock::lines;
    const auto place = [](int low, int high, double share) {
        return low + static_cast<int>(share * std::max(1, high - low));
    };
    const int line = place(top, bottom, spread_over(blocks_, 0.5698402909980532));
    // Whole chroma samples and rows, whatever their raster.
    return {place(left, right, spread_over(blocks_, 0.7548776662466927)) / 4 * 4,
            2 * (line / 2 * 2) + static_cast<int>(blocks_ % 2)};
}

/// Whether noise of the block may have been cut.
bool PictureNoise::is_cut(const media::Plane& plane, const FieldBlock& block) const {
    std::array<float, FieldBlock::samples> row{};
    const float scale = 1.0F / static_cast<float>(1 << (format_.bit_depth - 8));
    const float low = (static_cast<float>(lowest_code_) + 0.5F) * scale,
                high = (static_cast<float>(highest_code_) - 0.5F) * scale;
    std::ptrdiff_t outermost = 0;
    for (int i = 0; i < FieldBlock::lines; i += 2) {
        read_codes(plane, format_.bit_depth, block.y + 2 * i, block.x, FieldBlock::samples, row.data());
        outermost += std::ranges::count_if(row, [=](float code) { return code < low || code > high; });
    }
    return static_cast<double>(outermost) > most_cut * FieldBlock::samples * FieldBlock::lines / 2;
}

void PictureNoise::measure_block(const media::Frame& frame) {
    const FieldBlock block = next_block();
    if (is_cut(frame.planes[0], block)) return;
    const media::Frame& previous = *kept_[0];
    const BlockShift shift = search_.find(frame.planes[0], previous.planes[0], block);
    Sample sample;
    sample.luma = meter_.luma(frame.planes[0], previous.planes[0], block, shift);
    sample.level = meter_.level();
    if (format_.has_chroma && shift.lines % (1 << format_.chroma_shift_y) == 0)
        sample.chroma = measure_chroma(frame, block, sample.luma, shift.lines);
    if (shift == BlockShift{} && std::abs(sample.luma.moved_samples) < still) {
        look_further_back(frame, block, sample);
    } else if (std::abs(sample.luma.moved_lines - static_cast<float>(shift.lines)) > part_of_line) {
        compare_with_better(frame, block, sample.luma);
    }
    samples_.push_back(sample);
}

/// For a block that stands still.
void PictureNoise::look_further_back(const media::Frame& frame, const FieldBlock& block, Sample& sample) {
    const BlockNoise& once = sample.luma;
    const float moved = once.moved_samples * once.moved_samples + once.moved_lines * once.moved_lines;
    if (once.detail * moved < quite_still * once.temporal)
        sample.alike = meter_.likeness_of_lines(frame.planes[0], kept_[0]->planes[0], block);
    if (!kept_[1]) return;
    sample.over_two = meter_.luma(frame.planes[0], kept_[1]->planes[0], block, {}).temporal;
    still_once_ += static_cast<double>(once.temporal), still_twice_ += static_cast<double>(*sample.over_two);
    if (kept_[3] && still_twice_ > suspicious_over_two * still_once_)
        sample.over_four = meter_.luma(frame.planes[0], kept_[3]->planes[0], block, {}).temporal;
}

/// Compares again with that frame of those kept which the lines that take no part in measuring fit best.
void PictureNoise::compare_with_better(const media::Frame& frame, const FieldBlock& block, BlockNoise& found) {
    std::size_t best = 0;
    BlockShift best_shift;
    auto least = worth_while * static_cast<float>(search_.difference());
    for (std::size_t frames = 2; frames <= kept_.size() && kept_[frames - 1]; ++frames) {
        const float samples = found.moved_samples * static_cast<float>(frames),
                    lines = found.moved_lines * static_cast<float>(frames);
        if (std::abs(samples) > BlockSearch::reach_samples - 1 || std::abs(lines) > BlockSearch::reach_lines - 1) break;
        const BlockShift shift =
            search_.refine(frame.planes[0], kept_[frames - 1]->planes[0], block,
                           {static_cast<int>(std::lround(samples)), static_cast<int>(std::lround(lines))});
        if (static_cast<float>(search_.difference()) >= least) continue;
        least = static_cast<float>(search_.difference()), best = frames - 1, best_shift = shift;
    }
    if (best > 0) found = meter_.luma(frame.planes[0], kept_[best]->planes[0], block, best_shift);
}

std::array<BlockNoise, 2> PictureNoise::measure_chroma(const media::Frame& frame, const FieldBlock& block,
                                                       const BlockNoise& luma, int lines) {
    const int line = block.y / 2 >> format_.chroma_shift_y;
    const FieldBlock place{block.x >> format_.chroma_shift_x, 2 * line + block.y % 2};
    const float moved = luma.moved_samples / static_cast<float>(1 << format_.chroma_shift_x);
    std::array<BlockNoise, 2> out;
    for (std::size_t i = 0; i < 2; ++i)
        out[i] =
            meter_.chroma(frame.planes[i + 1], kept_[0]->planes[i + 1], place, moved, lines >> format_.chroma_shift_y);
    return out;
}

/// Of the blocks that are neither dark nor bright, rounding included.
std::optional<double> PictureNoise::middle_variance() const {
    std::vector<NoisePoint> points;
    for (const Sample& sample : samples_)
        if (crushing_.is_middle(static_cast<double>(sample.level)))
            points.push_back({sample.luma.temporal, sample.luma.detail});
    const auto fit = fit_noise(points);
    if (!fit || fit->variance < least_share * fit->at_least_detail || fit->error > most_doubt * fit->variance)
        return std::nullopt;
    return fit->variance;
}

/// What is said if frames hold part of those before: noise then changes more over two frames than over one.
std::optional<std::string> PictureNoise::smearing() const {
    std::vector<NoisePoint> once, twice, four;
    std::vector<float> ratios;
    for (const Sample& sample : samples_) {
        if (!sample.over_two || *sample.over_two > most_of_two * sample.luma.temporal) continue;
        once.push_back({sample.luma.temporal, sample.luma.detail});
        twice.push_back({*sample.over_two, sample.luma.detail});
        ratios.push_back(*sample.over_two / sample.luma.temporal);
        if (sample.over_four) four.push_back({*sample.over_four, sample.luma.detail});
    }
    if (ratios.size() < fewest_still) return std::nullopt;
    const double error = ratio_scatter / std::sqrt(static_cast<double>(ratios.size()));
    const double ratio = dsp::quantile_in_place(std::span<float>(ratios), 0.5);
    const auto one = fit_noise(once), two = fit_noise(twice);
    if (!one || !two || two->variance < suspicious_over_two * one->variance ||
        ratio < std::max(most_over_two, 1 + surely * error))
        return std::nullopt;
    // By the frames on which the noise has nothing more in common: all of it, for what mixes in a frame or two; for
    // what mixes in ever less of all that went before, as much again as is still to come.
    double all = std::max(two->variance, 1.01 * one->variance);
    if (const auto over_four = fit_noise(four); over_four && over_four->variance > all) {
        const double shared = std::min(0.9, over_four->variance / all - 1);
        all = all / (1 - shared);
    }
    return fmt::format(
        "a processor has smeared the noise in time: where nothing moves, the noise of a frame is {:.0f} % that of the "
        "frame before; what is left of it, about {:.0f} dB, is not the tape's",
        100 * (1 - one->variance / all), snr_db(all));
}

/// What is said if lines have noise in common, or a codec has worked on it.
std::string PictureNoise::smoothing() const {
    if (is_lossy_) return "; of the file: its codec keeps only part of the noise";
    std::array<std::vector<float>, 2> alike;
    for (const Sample& sample : samples_)
        for (std::size_t i = 0; i < 2; ++i)
            if (sample.alike) alike[i].push_back((*sample.alike)[i]);
    if (alike[0].size() < fewest_still) return {};
    const double in_frame = dsp::quantile_in_place(std::span<float>(alike[0]), 0.5),
                 in_field = dsp::quantile_in_place(std::span<float>(alike[1]), 0.5);
    if (std::max(in_frame, in_field) < static_cast<double>(least_alike)) return {};
    return fmt::format(
        "; lines have {:.0f} % of it in common with the next: smoothed down the picture, by a processor, a scaler or a "
        "codec",
        100 * std::max(in_frame, in_field));
}

Figure PictureNoise::luma_figure() const {
    std::vector<NoisePoint> points, beside;
    for (const Sample& sample : samples_) {
        points.push_back({sample.luma.temporal, sample.luma.detail});
        if (sample.luma.detail < sample.luma.temporal) beside.push_back({sample.luma.spatial, sample.luma.detail});
    }
    const double rounding = rounding_variance(format_.bit_depth);
    const auto fit = fit_noise(points);
    if (auto objected = objection(fit, rounding)) return *objected;
    if (auto smeared = smearing()) return Figure::unknown(*smeared);
    std::array<double, 4> quarters{};
    double all = 0;
    for (const Sample& sample : samples_) {
        if (static_cast<double>(sample.luma.temporal) > 1.3 * fit->variance) continue;
        for (std::size_t band = 0; band < BlockNoise::bands; ++band)
            quarters[band / 2] += static_cast<double>(sample.luma.band[band]),
                all += static_cast<double>(sample.luma.band[band]);
    }
    std::string note = "by what changes from frame to frame where motion could be followed";
    if (all > 0)
        note += fmt::format("; {:.0f}, {:.0f}, {:.0f} and {:.0f} % of its power in the four quarters of the band",
                            100 * quarters[0] / all, 100 * quarters[1] / all, 100 * quarters[2] / all,
                            100 * quarters[3] / all);
    if (const auto spatial = fit_noise(beside); spatial && spatial->variance > rounding)
        note +=
            fmt::format("; {:.1f} dB against the lines beside, where it is flat", snr_db(spatial->variance - rounding));
    return Figure::measured(snr_db(fit->variance - rounding), error_db(*fit), "dB").with_note(note + smoothing());
}

Figure PictureNoise::chroma_figure() const {
    if (!format_.has_chroma) return Figure::unknown("the clip has no colour");
    std::array<std::optional<NoiseFit>, 2> fits;
    for (std::size_t i = 0; i < 2; ++i) {
        std::vector<NoisePoint> points;
        for (const Sample& sample : samples_)
            if (sample.chroma) points.push_back({(*sample.chroma)[i].temporal, (*sample.chroma)[i].detail});
        fits[i] = fit_noise(points);
        if (auto objected = objection(fits[i], rounding_variance(format_.bit_depth))) return *objected;
    }
    NoiseFit both;
    both.variance = (fits[0]->variance + fits[1]->variance) / 2;
    both.error = std::hypot(fits[0]->error, fits[1]->error) / 2;
    const double rounding = rounding_variance(format_.bit_depth);
    return Figure::measured(snr_db(both.variance - rounding), error_db(both), "dB")
        .with_note(fmt::format("C_B {:.1f} dB, C_R {:.1f} dB", snr_db(fits[0]->variance - rounding),
                               snr_db(fits[1]->variance - rounding)));
}

void PictureNoise::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    if (!usable_) {
        for (const char* id : {"luma_snr", "chroma_snr", "black_slope", "white_slope"})
            figures.add(id, Figure::unknown("the picture is too small to follow its motion"));
        return;
    }
    Figure luma = luma_figure();
    // What has been done to the luma has been done to the colour.
    Figure chroma = luma.is_known() || !format_.has_chroma ? chroma_figure() : Figure::unknown(luma.reason());
    figures.add("luma_snr", std::move(luma));
    figures.add("chroma_snr", std::move(chroma));
    crushing_.add_figures(middle_variance(), figures);
}

}  // namespace guardband::measure
