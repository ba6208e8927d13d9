#include "testsignal/clip_maker.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>

namespace guardband::testsignal {
namespace {

// Coding of ITU-R BT.601: luma over 219 codes of 8 bits, colour difference of ±0.5 over 224 about 128.
constexpr double chroma_range = 224, chroma_zero = 128, luma_range = 219;

// Seeds of what is random in a clip.
constexpr std::uint64_t scene_stream = 1, luma_stream = 2, cb_stream = 3, cr_stream = 4, stamp_stream = 5,
                        held_stream = 9;

struct Codes {
    float offset, gain, noise;  ///< in codes of the clip's bit depth
    int low, high;              ///< limits of the clipper
};

int code_scale(const Recipe& r) { return 1 << (r.bit_depth - 8); }

double noise_codes(double snr_db) { return luma_range / std::pow(10, snr_db / 20); }

// Codes 0 and 255 (0 to 3 and 1020 to 1023) are kept for timing references.
Codes luma_codes(const Recipe& r) {
    const double scale = code_scale(r), low = r.levels.clip_low_code.value_or(1),
                 high = r.levels.clip_high_code.value_or(254.75);
    return {static_cast<float>(r.levels.black_code * scale),
            static_cast<float>((r.levels.white_code - r.levels.black_code) * scale),
            static_cast<float>(r.noise.snr_db ? noise_codes(*r.noise.snr_db) * scale : 0),
            static_cast<int>(std::lround(low * scale)), static_cast<int>(std::floor(high * scale))};
}

Codes chroma_codes(const Recipe& r) {
    const double scale = code_scale(r);
    const auto snr_db = r.noise.chroma_snr_db ? r.noise.chroma_snr_db : r.noise.snr_db;
    return {static_cast<float>(chroma_zero * scale), static_cast<float>(chroma_range * scale),
            static_cast<float>(snr_db ? noise_codes(*snr_db) * scale : 0), static_cast<int>(scale),
            static_cast<int>(255 * scale) - 1};
}

/// One row of signal to codes: level, noise, rounding, clipping. @param noise  as long as the row, or empty
ClipTally write_row(const float* signal, std::span<const float> noise, const Codes& c, std::span<std::uint16_t> out) {
    int below = 0, above = 0, at_low = 0, at_high = 0;
    const float* grain = noise.data();
    const auto put = [&](std::size_t x, float value) {
        const int code = static_cast<int>(value + 1024.5F) - 1024;  // rounds; a plain floor() would not be vectorised
        const int held = std::min(std::max(code, c.low), c.high);
        below += code<c.low, above += code> c.high, at_low += held == c.low, at_high += held == c.high;
        out[x] = static_cast<std::uint16_t>(held);
    };
    if (noise.empty())
        for (std::size_t x = 0; x < out.size(); ++x) put(x, c.offset + c.gain * signal[x]);
    else
        for (std::size_t x = 0; x < out.size(); ++x) put(x, c.offset + c.gain * signal[x] + c.noise * grain[x]);
    return {static_cast<std::int64_t>(out.size()), below, above, at_low, at_high};
}

/// Two rows of a picture into one, as 4:2:0 does within a field.
void halve_rows(const FloatPlane& in, FloatPlane& out) {
    out.resize(in.width, in.height / 2);
    for (int y = 0; y < out.height; ++y)
        for (int x = 0; x < out.width; ++x) out.row(y)[x] = (in.row(2 * y)[x] + in.row(2 * y + 1)[x]) / 2;
}

/// Every other sample of a row, after a (1 2 1)/4 low-pass.
void halve_columns(const FloatPlane& in, FloatPlane& out) {
    out.resize(in.width / 2, in.height);
    for (int y = 0; y < out.height; ++y) {
        const float* row = in.row(y);
        for (int x = 0; x < out.width; ++x)
            out.row(y)[x] = row[2 * x] / 2 + (row[std::max(2 * x - 1, 0)] + row[2 * x + 1]) / 4;
    }
}

double aperture_lines(const Recipe& r) {
    return r.picture.aperture_lines.value_or(r.scan == Scan::Interlaced && r.pulldown.empty() ? 2 : 1);
}

}  // namespace

ClipTally& ClipTally::operator+=(const ClipTally& other) {
    samples += other.samples;
    clipped_low += other.clipped_low, clipped_high += other.clipped_high;
    at_low += other.at_low, at_high += other.at_high;
    return *this;
}

ClipMaker::ClipMaker(Recipe recipe)
    : recipe_((check(recipe), std::move(recipe))), schedule_(recipe_), time_base_(recipe_), player_(recipe_) {
    if (recipe_.screen || recipe_.lamp) light_.emplace(recipe_);
    if (recipe_.test_picture) test_picture_.emplace(recipe_, time_base_.margin_px());
}

Scene& ClipMaker::scene_at(double time_s) {
    const auto& cuts = recipe_.picture.cuts_s;
    const auto number =
        static_cast<std::size_t>(std::upper_bound(cuts.begin(), cuts.end(), time_s + 1e-9) - cuts.begin());
    auto& scene = scenes_[number];
    Raster raster = recipe_.raster;
    raster.width += 2 * time_base_.margin_px();
    if (!scene)
        scene = std::make_unique<Scene>(recipe_.picture, raster, aperture_lines(recipe_), picture_rate(recipe_).value(),
                                        mixed_seed(recipe_.seed, scene_stream, number));
    return *scene;
}

void ClipMaker::make(std::int64_t index, ClipFrame& out) {
    assert(0 <= index && index < frame_count());
    out.index = index;
    out.source_index = schedule_.source_frame(index);
    out.time_s = stamp_s(index);
    out.tally = {};
    const int width = recipe_.raster.width, height = recipe_.raster.height;
    const int chroma_width = recipe_.chroma == ChromaSampling::C411 ? width / 4 : width / 2;
    const int chroma_height = recipe_.chroma == ChromaSampling::C420 ? height / 2 : height;
    out.planes[0].resize(width, height);
    out.planes[1].resize(chroma_width, chroma_height);
    out.planes[2].resize(chroma_width, chroma_height);
    const std::int64_t first = 2 * out.source_index;
    if (recipe_.scan == Scan::Progressive) {
        make_field(first, Rows::All, out);
    } else {
        const bool top_first = recipe_.field_order == FieldOrder::TopFirst;
        make_field(first, top_first ? Rows::Top : Rows::Bottom, out);
        make_field(first + 1, top_first ? Rows::Bottom : Rows::Top, out);
    }
    if (recipe_.padding) pad(out);
}

bool ClipMaker::shows_test_picture(double time_s) const {
    if (!test_picture_) return false;
    const auto& t = *recipe_.test_picture;
    return time_s >= t.from_s - 1e-9 && (!t.until_s || time_s < *t.until_s - 1e-9);
}

void ClipMaker::turn_colours(Picture& picture) const {
    const auto& l = recipe_.levels;
    if (l.chroma_gain == 1 && l.chroma_phase_deg == 0) return;
    const double angle = l.chroma_phase_deg * std::numbers::pi / 180;
    const auto c = static_cast<float>(l.chroma_gain * std::cos(angle)),
               s = static_cast<float>(l.chroma_gain * std::sin(angle));
    for (std::size_t i = 0; i < picture.cb.samples.size(); ++i) {
        float &cb = picture.cb.samples[i], &cr = picture.cr.samples[i];
        const float was = cb;
        cb = c * was - s * cr, cr = s * was + c * cr;
    }
}

void ClipMaker::pad(ClipFrame& out) const {
    const auto& p = *recipe_.padding;
    for (std::size_t i = 0; i < out.planes.size(); ++i) {
        SamplePlane& plane = out.planes[i];
        const auto code =
            static_cast<std::uint16_t>(code_scale(recipe_) * (i == 0 ? recipe_.raster.black_code : chroma_zero));
        const int across = recipe_.raster.width / plane.width, down = recipe_.raster.height / plane.height;
        for (int y = 0; y < plane.height; ++y) {
            const bool row = y * down < p.top_lines || y * down >= recipe_.raster.height - p.bottom_lines;
            for (int x = 0; x < plane.width; ++x)
                if (row || x * across < p.left_px || x * across >= recipe_.raster.width - p.right_px)
                    plane.row(y)[x] = code;
        }
    }
}

void ClipMaker::render(const FieldSource& source, Rows rows) {
    const double lower_lines = time_base_.lower_lines(source.noise_field);
    scene_at(source.time_s).render(source.time_s, rows, picture_, lower_lines);
    if (source.later_share <= 0) return;
    scene_at(source.later_time_s).render(source.later_time_s, rows, later_, lower_lines);
    const auto share = static_cast<float>(source.later_share);
    const auto mix = [share](FloatPlane& now, const FloatPlane& later) {
        for (std::size_t i = 0; i < now.samples.size(); ++i)
            now.samples[i] += share * (later.samples[i] - now.samples[i]);
    };
    mix(picture_.luma, later_.luma), mix(picture_.cb, later_.cb), mix(picture_.cr, later_.cr);
}

void ClipMaker::make_field(std::int64_t source_field, Rows rows, ClipFrame& out) {
    const FieldSource source = schedule_.field(source_field);
    if (shows_test_picture(source.time_s))
        test_picture_->render(rows, picture_);
    else
        render(source, rows);
    turn_colours(picture_);
    time_base_.apply(source.noise_field, picture_);
    if (light_) light_->apply(source.time_s, rows, picture_);
    player_.apply(source_field, picture_);
    drawn_ = player_.is_drawn(source_field / 2);
    const auto noise = [&](std::uint64_t stream) {
        return Random(mixed_seed(recipe_.seed, stream, static_cast<std::uint64_t>(source.noise_field)));
    };
    Random luma = noise(luma_stream), cb = noise(cb_stream), cr = noise(cr_stream);
    write_luma(picture_, rows, luma, out);
    hold_lines(source.noise_field, rows, out);
    write_chroma(picture_.cb, rows, cb, out.planes[1]);
    write_chroma(picture_.cr, rows, cr, out.planes[2]);
}

void ClipMaker::write_luma(const Picture& picture, Rows rows, Random& noise, ClipFrame& out) {
    const Codes codes = luma_codes(recipe_);
    const int step = rows == Rows::All ? 1 : 2, first = rows == Rows::Bottom ? 1 : 0;
    noise_.resize(codes.noise > 0 && !drawn_ ? static_cast<std::size_t>(picture.luma.width) : 0);
    for (int r = 0; r < picture.luma.height; ++r) {
        noise.fill_gaussian(noise_);
        std::uint16_t* row = out.planes[0].row(first + r * step);
        out.tally += write_row(picture.luma.row(r), noise_, codes, {row, static_cast<std::size_t>(picture.luma.width)});
    }
}

/// Fills what was lost with the samples of the line above, as a player does that finds it missing.
void ClipMaker::hold_lines(std::int64_t noise_field, Rows rows, ClipFrame& out) {
    if (!recipe_.dropouts || !recipe_.dropouts->held) return;
    const double per_us = recipe_.raster.luma_sampling_hz / 1e6;
    const double noise =
        recipe_.dropouts->held_snr_db ? noise_codes(*recipe_.dropouts->held_snr_db) * code_scale(recipe_) : 0;
    Random random(mixed_seed(recipe_.seed, held_stream, static_cast<std::uint64_t>(noise_field)));
    const int parity = rows == Rows::Bottom ? 1 : 0, highest = 255 * code_scale(recipe_) - 1;
    for (const Dropout& d : time_base_.dropouts(noise_field)) {
        if (!d.held) continue;
        std::uint16_t* row = out.planes[0].row(2 * d.line + parity);
        const std::uint16_t* from = out.planes[0].row(2 * (d.line - 1) + parity);
        const double end = std::min<double>((d.start_us + d.length_us) * per_us, recipe_.raster.width);
        for (int x = static_cast<int>(std::ceil(d.start_us * per_us)); x < end; ++x)
            row[x] = static_cast<std::uint16_t>(std::clamp<int>(
                static_cast<int>(std::lround(from[x] + (noise > 0 ? noise * random.gaussian() : 0))), 1, highest));
    }
}

void ClipMaker::write_chroma(FloatPlane& chroma, Rows rows, Random& noise, SamplePlane& out) {
    const Codes codes = chroma_codes(recipe_);
    if (recipe_.chroma == ChromaSampling::C420) halve_rows(chroma, reduced_);
    if (recipe_.chroma == ChromaSampling::C411) halve_columns(chroma, reduced_);
    const FloatPlane& in = recipe_.chroma == ChromaSampling::C422 ? chroma : reduced_;
    const int step = rows == Rows::All ? 1 : 2, first = rows == Rows::Bottom ? 1 : 0;
    noise_.resize(codes.noise > 0 && !drawn_ ? static_cast<std::size_t>(in.width) : 0);
    for (int r = 0; r < in.height; ++r) {
        noise.fill_gaussian(noise_);
        write_row(in.row(r), noise_, codes, {out.row(first + r * step), static_cast<std::size_t>(in.width)});
    }
}

double ClipMaker::stamp_s(std::int64_t index) const {
    const auto& faults = recipe_.faults;
    const auto frame = static_cast<double>(faults.stamps_keep_gap ? schedule_.source_frame(index) : index);
    const double frame_s = 1 / recipe_.raster.frame_rate.value();
    Random random(mixed_seed(recipe_.seed, stamp_stream, static_cast<std::uint64_t>(index)));
    double stamp = frame * frame_s;
    // Held to less than half a frame, so that stamps keep rising even when rounded; the first stays, since a file
    // begins with it.
    if (recipe_.stamps.jitter_rms_ms > 0 && index > 0)
        stamp += std::clamp(random.gaussian() * recipe_.stamps.jitter_rms_ms / 1e3, -0.4 * frame_s, 0.4 * frame_s);
    const double step_s = recipe_.stamps.rounding_ms / 1e3;
    return step_s > 0 ? std::round(stamp / step_s) * step_s : stamp;
}

FieldSource ClipMaker::source_of(std::int64_t clip_field) const {
    return schedule_.field(2 * schedule_.source_frame(clip_field / 2) + clip_field % 2);
}

std::vector<double> ClipMaker::displacements_ns(std::int64_t clip_field) const {
    return time_base_.displacements_ns(source_of(clip_field).noise_field);
}

bool ClipMaker::next(ClipFrame& out) {
    if (next_ >= frame_count()) return false;
    for (std::int64_t field = 2 * next_; field < 2 * next_ + 2; ++field)
        for (Dropout dropout : time_base_.dropouts(source_of(field).noise_field)) {
            dropout.field = field;
            dropouts_.push_back(dropout);
        }
    make(next_++, out);
    tally_ += out.tally;
    return true;
}

Truth ClipMaker::truth() const {
    Truth truth;
    truth.recipe = recipe_;
    truth.frame_count = frame_count();
    truth.repeated_fields = schedule_.repeated_fields();
    truth.repeated_frames = schedule_.repeated_frames();
    truth.missing_frames = schedule_.missing_frames();
    if (recipe_.picture.objects) truth.black_code = recipe_.levels.black_code;
    if (recipe_.picture.objects && !light_) truth.white_code = recipe_.levels.white_code;
    truth.tally = tally_;
    if (light_) truth.flicker = light_->truth();
    truth.dropouts = dropouts_;
    if (!recipe_.time_base) return truth;
    TimeBaseTally tally(recipe_);
    for (std::int64_t field = 0; field < 2 * frame_count(); ++field)
        tally.add(time_base_.displacements_ns(source_of(field).noise_field),
                  time_base_.lower_lines(source_of(field).noise_field));
    truth.time_base = tally.truth();
    return truth;
}

}  // namespace guardband::testsignal
