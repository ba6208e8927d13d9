// What the blocks said, as figures: the part of `PictureNoise` that speaks for the whole clip.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <span>

#include "dsp/robust.h"
#include "measure/clip/noise_fit.h"
#include "measure/clip/picture_noise.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr double reference_codes = 219;  // from black to white: the contract's definition of the figure
/// Of the variance that rounding adds: less than this is rounding alone.
constexpr double rounding_alone = 1.6;
/// What is left when it is taken off must be more than nothing.
constexpr double least_of_rounding = 1.1;
constexpr std::size_t fewest_still = 24;
/// Over two frames noise must change by so much more than over one: the median block, and that of the plainer half, by
/// more than chance, and what all have in common.
constexpr double least_of_all = 1.06, least_of_plain = 1.065, least_over_two = 1.03;
/// No smearing makes it more; motion does, where fields were repeated.
constexpr float most_of_two = 2.6F;
/// Of the noise, what motion may make that noise alone feigns (up to a tenth), and the noise of what stands still: what
/// moves slowly down the picture changes more over two frames too.
constexpr double seems_still = 0.15, most_of_still = 1.5;
/// Of one block's ratio, and of a median's error to that of a mean.
constexpr double ratio_scatter = 0.17 * 1.25;
/// Likeness of lines from which on it is said.
constexpr float least_alike = 0.15F;
/// The noise is lost in detail that could not be followed if it is less than this share of what the calmest blocks
/// show.
constexpr double least_share = 0.3;
/// Of the noise in the middle of the range, for the ends to be compared with it.
constexpr double most_doubt = 0.15, least_beside = 0.75;
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

constexpr const char* too_little = "fewer than a dozen places of the picture could be compared from frame to frame";
constexpr const char* no_noise =
    "no noise beyond the rounding of the samples: a processor removed it, or the pictures never were on a tape";
constexpr const char* no_noise_kept =
    "no noise beyond the rounding of the samples: the file's codec keeps none that is so weak";
constexpr const char* of_the_file =
    "; of the file: its codec keeps only part of the noise, so what it was made from had more";
constexpr const char* lost_in_detail = "noise can't be told from detail that moves in a way that could not be followed";

constexpr const char* trails =
    "each frame holds part of the one before, as trails of what moves show: the noise that is left is not the tape's";

/// What both kinds of figure ask of a fit; nothing if all is well.
std::optional<Figure> objection(const std::optional<NoiseFit>& fit, double rounding, bool is_lossy) {
    if (!fit) return Figure::unknown(too_little);
    if (fit->at_least_detail < rounding_alone * rounding) return Figure::unknown(is_lossy ? no_noise_kept : no_noise);
    if (fit->variance < std::max(least_share * fit->at_least_detail, least_of_rounding * rounding))
        return Figure::unknown(lost_in_detail);
    return std::nullopt;
}

}  // namespace

/// Of the blocks that are neither dark nor bright, rounding included. Noise shows against the lines beside as it does
/// against the frame before; where that shows less, it is the picture that changes, and where most of it does, as
/// flames do, noise is not known.
std::optional<double> PictureNoise::middle_variance() const {
    std::vector<NoisePoint> points;
    std::size_t changing = 0;
    for (const Sample& sample : samples_) {
        if (!crushing_.is_middle(static_cast<double>(sample.level))) continue;
        if (static_cast<double>(sample.luma.spatial) < least_beside * static_cast<double>(sample.luma.temporal))
            ++changing;
        else
            points.push_back({sample.luma.temporal, sample.luma.detail});
    }
    if (changing > points.size()) return std::nullopt;
    const auto fit = fit_noise(points);
    if (!fit || fit->variance < least_share * fit->at_least_detail || fit->error > most_doubt * fit->variance)
        return std::nullopt;
    return fit->variance;
}

/// What is said if frames hold part of those before: noise then changes more over two frames than over one.
/// @param noise  variance that all blocks have in common
std::optional<std::string> PictureNoise::smearing(double noise) const {
    std::vector<NoisePoint> once, twice, four;
    std::vector<std::pair<float, float>> by_detail;  // and the ratio
    for (const Sample& sample : samples_) {
        if (!sample.over_two || *sample.over_two > most_of_two * sample.luma.temporal) continue;
        if (static_cast<double>(sample.by_motion) > seems_still * noise) continue;
        once.push_back({sample.luma.temporal, sample.luma.detail});
        twice.push_back({*sample.over_two, sample.luma.detail});
        by_detail.emplace_back(sample.luma.detail, *sample.over_two / sample.luma.temporal);
        if (sample.over_four) four.push_back({*sample.over_four, sample.luma.detail});
    }
    if (by_detail.size() < fewest_still) return std::nullopt;
    // Motion that was not followed shows where there is detail, smeared noise everywhere.
    std::ranges::sort(by_detail);
    const auto is_more = [&](std::size_t blocks, double least, double surely) {
        std::vector<float> ratios;
        for (std::size_t i = 0; i < blocks; ++i) ratios.push_back(by_detail[i].second);
        const double error = ratio_scatter / std::sqrt(static_cast<double>(blocks));
        return dsp::quantile_in_place(std::span<float>(ratios), 0.5) >= std::max(least, 1 + surely * error);
    };
    const auto one = fit_noise(once), two = fit_noise(twice);
    if (!one || !two || two->variance < least_over_two * one->variance || one->variance > most_of_still * noise ||
        !is_more(by_detail.size(), least_of_all, 4) || !is_more(by_detail.size() / 2, least_of_plain, 3))
        return std::nullopt;
    // By the frames on which the noise has nothing more in common: all of it, for what mixes in a frame or two; for
    // what mixes in ever less of all that went before, as much again as is still to come.
    double all = std::max(two->variance, 1.01 * one->variance);
    if (const auto over_four = fit_noise(four); over_four && over_four->variance > all) {
        const double shared = std::min(0.9, over_four->variance / all - 1);
        all = all / (1 - shared);
    }
    return fmt::format(
        "{} has smeared the noise in time: where nothing moves, the noise of a frame is {:.0f} % that of the "
        "frame before; what is left of it, about {:.0f} dB, is not the tape's",
        is_lossy_ ? "the file's codec or a processor" : "a processor", 100 * (1 - one->variance / all), snr_db(all));
}

/// What is said if lines have noise in common, or a codec has worked on it.
std::string PictureNoise::smoothing() const {
    if (is_lossy_) return of_the_file;
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
    if (auto objected = objection(fit, rounding, is_lossy_)) return *objected;
    if (auto smeared = smearing(fit->variance)) return Figure::unknown(*smeared);
    if (echo_.mixed() == MotionEcho::Mixed::Frames) return Figure::unknown(trails);
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
        if (auto objected = objection(fits[i], rounding_variance(format_.bit_depth), is_lossy_)) return *objected;
    }
    NoiseFit both;
    both.variance = (fits[0]->variance + fits[1]->variance) / 2;
    both.error = std::hypot(fits[0]->error, fits[1]->error) / 2;
    const double rounding = rounding_variance(format_.bit_depth);
    return Figure::measured(snr_db(both.variance - rounding), error_db(both), "dB")
        .with_note(fmt::format("C_B {:.1f} dB, C_R {:.1f} dB{}", snr_db(fits[0]->variance - rounding),
                               snr_db(fits[1]->variance - rounding), is_lossy_ ? of_the_file : ""));
}

/// What moves, shown twice.
Figure PictureNoise::mixed_figure() const {
    const auto half = echo_.reading(MotionEcho::Lag::HalfFrame), frame = echo_.reading(MotionEcho::Lag::Frame);
    switch (echo_.mixed()) {
        case MotionEcho::Mixed::Unknown:
            return Figure::unknown(
                "too little detail moves by ten samples a frame and more, as could show itself twice");
        case MotionEcho::Mixed::Smeared:
            return Figure::unknown(
                "what moves is smeared over the way of a frame: two fields were mixed, or the shutter stayed open");
        case MotionEcho::Mixed::Nothing:
            return Figure::text("none");
        case MotionEcho::Mixed::TwoFields:
            return Figure::text("two fields")
                .with_note(fmt::format(
                    "what moves shows twice, half a frame's way apart (strength {:.2f} ± {:.2f}): two fields "
                    "were mixed into each picture",
                    half->strength, half->error));
        case MotionEcho::Mixed::Frames:
            break;
    }
    return Figure::text("frames before")
        .with_note(fmt::format(
            "what moves shows again where it was a frame before (strength {:.2f} ± {:.2f}): each frame holds "
            "part of those before",
            frame->strength, frame->error));
}

}  // namespace guardband::measure
