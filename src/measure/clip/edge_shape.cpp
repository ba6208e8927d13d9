#include "measure/clip/edge_shape.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

/// Rises that are tried, samples at 10 % to 90 %: from what 5.5 MHz leave to that of a domestic tape.
constexpr std::array rises_px{1.3, 1.8, 2.4, 3.0, 3.6, 4.2, 5.0, 6.0, 7.5, 9.0};
constexpr std::size_t first_rise = 4;
/// Blanking must lie this near to black, 8-bit codes, in this share of the rows.
constexpr double blanking_reach = 20, blanking_share = 0.4;
/// Samples at either end that are looked at for blanking.
constexpr int outermost = 3;
/// The rise is tried at these fields, then at every 64th.
constexpr std::int64_t early_fields = 12, rise_interval = 64, blanking_interval = 4;
/// What one edge counts at most when rises are compared, squared heights: low ones and such as aren't edges would
/// decide.
constexpr float most_misfit = 0.002F;
/// Distances at which the pictures' course is taken, samples; reaches that are tried for it.
constexpr std::size_t distances = 12;
constexpr std::array reaches_px{1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0};
/// How lively a piece of picture is, as a factor of the spread of all; where one class ends the next begins.
constexpr std::array liveliness{0.15, 0.4, 1.0, 2.0};
constexpr std::array lively_above{0.25F, 0.65F, 1.5F};
/// Share of the noise that is left of an average over frames.
constexpr double averaged_noise = 0.3;
/// What is off a picture that was foreseen: RMS, 8-bit codes, where one class ends, and over how many samples it is
/// alike.
constexpr std::array foreseen_spreads{1.5, 3.0, 6.0, 12.0};
constexpr std::array foreseen_up_to{2.0F, 4.5F, 9.0F};
constexpr double foreseen_reach_px = 2.5;

}  // namespace

struct EdgeShape::FilterBank {
    FilterBank(double rise, const EdgeNoise& all_noise, const PictureCourse& all)
        : rise_px(rise), noise(all_noise), course(all) {
        for (const double factor : liveliness) {
            PictureCourse scaled = course;
            scaled.spread *= factor;
            filters.emplace_back(rise, noise, scaled);
        }
        // Squared differences of neighbours two apart, of a picture as lively as all, and of noise.
        usual = static_cast<float>(course.squared_difference(2));
        noise_share = static_cast<float>(2 * noise.everywhere * noise.everywhere);
    }

    /// Which filter is that for the piece of picture behind an edge.
    std::size_t liveliness_of(const float* window) const {
        constexpr int from = EdgeFilter::before + 2;
        float squares = 0;
        for (int i = from; i + 2 < EdgeFilter::taps; ++i) {
            const float difference = window[i + 2] - window[i];
            squares += difference * difference;
        }
        const float share = (squares / (EdgeFilter::taps - 2 - from) - noise_share) / usual;
        std::size_t index = 0;
        while (index < lively_above.size() && share > lively_above[index] * lively_above[index]) ++index;
        return index;
    }

    const EdgeFilter& filter(const float* window) const { return filters[liveliness_of(window)]; }

    const EdgeFilter& averaged(const float* window) const {
        if (averaged_filters.empty())
            for (const double factor : liveliness) {
                PictureCourse scaled = course;
                scaled.spread *= factor;
                averaged_filters.emplace_back(
                    rise_px, EdgeNoise{noise.everywhere * averaged_noise, noise.on_rise * averaged_noise}, scaled);
            }
        return averaged_filters[liveliness_of(window)];
    }

    /// The filter for an edge whose picture is known but for so much, RMS 8-bit codes.
    const EdgeFilter& foreseen(float error_codes) const {
        if (foreseen_filters.empty())
            for (const double spread : foreseen_spreads)
                foreseen_filters.emplace_back(rise_px, noise, PictureCourse{spread, foreseen_reach_px});
        std::size_t index = 0;
        while (index + 1 < foreseen_spreads.size() && error_codes > foreseen_up_to[index]) ++index;
        return foreseen_filters[index];
    }

    double rise_px;
    EdgeNoise noise;
    PictureCourse course;
    std::vector<EdgeFilter> filters;
    mutable std::vector<EdgeFilter> averaged_filters, foreseen_filters;  ///< made when first wanted
    float usual = 1, noise_share = 0;
};

EdgeShape::EdgeShape(double black_code, double codec_error)
    : black_code_(black_code),
      blanking_(black_code),
      noise_{.on_rise = codec_error},
      filters_(std::make_unique<FilterBank>(rises_px[first_rise], noise_, PictureCourse{})),
      rise_index_(first_rise),
      softer_fits_worse_(rises_px.size()),
      squared_differences_(distances) {}

EdgeShape::~EdgeShape() = default;

double EdgeShape::rise_px() const { return filters_->rise_px; }

const EdgeFilter& EdgeShape::filter(const float* window) const { return filters_->filter(window); }

const EdgeFilter& EdgeShape::averaged_filter(const float* window) const { return filters_->averaged(window); }

const EdgeFilter& EdgeShape::foreseen_filter(float error_codes) const { return filters_->foreseen(error_codes); }

/// Level and noise of the outermost samples, if they look like blanking.
bool EdgeShape::learn_blanking(const EdgeRows& rows) {
    if (fields_ >= early_fields && fields_ % blanking_interval != 0 && has_blanking_) return false;
    spare_.clear();
    for (int side = 0; side < 2; ++side)
        for (int y = 0; y < rows.lines(); y += 2)
            for (int x = 0; x < outermost; ++x)
                if (const float code = rows.code(y, side, x);
                    std::abs(static_cast<double>(code) - black_code_) < blanking_reach)
                    spare_.push_back(code);
    const double looked_at = static_cast<double>(rows.lines()) * outermost;
    if (static_cast<double>(spare_.size()) < blanking_share * looked_at) return false;
    const double level = dsp::median(std::span<const float>(spare_)),
                 noise = dsp::spread(std::span<const float>(spare_));
    // The codes are rounded, so that noise below a code shows none.
    const double least = 0.5;
    blanking_ = has_blanking_ ? blanking_ + 0.1 * (level - blanking_) : level;
    double& kept = noise_.everywhere;
    kept = has_blanking_ ? kept + 0.1 * (std::max(noise, least) - kept) : std::max(noise, least);
    has_blanking_ = true;
    return renew_filters();
}

/// How the pictures change along their lines, some way in from both edges.
void EdgeShape::learn_course(const EdgeRows& rows, std::span<const EdgeLine> lines) {
    constexpr int from = 16, count = 48;
    if (fields_ > early_fields && fields_ % rise_interval != 0) return;
    for (int y = 1; y < rows.lines(); y += 8) {
        const EdgeLine& line = lines[static_cast<std::size_t>(y)];
        for (std::size_t side = 0; side < 2; ++side) {
            if (!line.edges[side] || line.side == EdgeLine::none) continue;
            const int first = static_cast<int>(line.edges[side]->place) + from;
            if (first + count + static_cast<int>(distances) >= rows.width()) continue;
            for (std::size_t d = 0; d < distances; ++d)
                for (int x = first; x < first + count; x += 4) {
                    const float difference = rows.code(y, static_cast<int>(side), x + static_cast<int>(d) + 1) -
                                             rows.code(y, static_cast<int>(side), x);
                    squared_differences_[d] += static_cast<double>(difference * difference);
                }
            pairs_ += count / 4.0;
        }
    }
    if (pairs_ < 1000) return;
    double least = 1e30;
    for (const double reach : reaches_px) {
        const PictureCourse unit{1, reach};
        double sum = 0, squares = 0;
        std::array<double, distances> logs{};
        for (std::size_t d = 0; d < distances; ++d) {
            const double own = std::max(squared_differences_[d] / pairs_ - 2 * noise() * noise(), 0.5);
            logs[d] = std::log(own / unit.squared_difference(static_cast<double>(d) + 1));
            sum += logs[d];
        }
        const double mean = sum / distances;
        for (const double one : logs) squares += (one - mean) * (one - mean);
        if (squares < least) least = squares, course_ = {std::exp(mean / 2), reach};
    }
    if (pairs_ > 100'000) {
        pairs_ /= 2;
        for (double& one : squared_differences_) one /= 2;
    }
}

/// Makes the filters anew if what they were made for has changed by more than a third.
bool EdgeShape::renew_filters() {
    const auto changed = [](double now, double then) { return now / then < 0.75 || now / then > 1.33; };
    const FilterBank& old = *filters_;
    // Later the course must have changed by more, or pictures of changing detail would have them made again and again.
    const auto course_changed = [&](double now, double then) {
        return fields_ < early_fields ? changed(now, then) : now / then < 0.45 || now / then > 2.2;
    };
    if (changed(rises_px[rise_index_], old.rise_px) || changed(noise(), old.noise.everywhere) ||
        course_changed(course_.spread, old.course.spread) || course_changed(course_.reach, old.course.reach)) {
        filters_ = std::make_unique<FilterBank>(rises_px[rise_index_], noise_, course_);
        neighbours_ = {};
        return true;
    }
    return false;
}

/// Of some lines whose edges are sure.
double EdgeShape::misfit(const EdgeRows& rows, std::span<const EdgeLine> lines, const FilterBank& bank) const {
    std::array<float, EdgeFilter::taps> window{};
    double sum = 0;
    for (int y = 0; y < rows.lines(); y += 4) {
        const EdgeLine& line = lines[static_cast<std::size_t>(y)];
        if (line.side != EdgeLine::both) continue;
        for (int side = 0; side < 2; ++side) {
            float place = line.edges[static_cast<std::size_t>(side)]->place;
            EdgeFit fit;
            for (int i = 0; i < 2; ++i) {
                const int first = static_cast<int>(place);
                rows.window(y, side, first, window.data());
                fit = bank.filter(window.data()).step(window.data(), first, place);
                place = std::clamp(fit.place, place - 0.5F, place + 0.5F);
            }
            sum += static_cast<double>(std::min(fit.misfit / (fit.height * fit.height), most_misfit));
        }
    }
    return sum;
}

/// Tries the next steeper and the next softer edge, all else alike, and changes to what has fitted best in all fields
/// so far: one by itself may have outlines under its edges.
bool EdgeShape::learn_rise(const EdgeRows& rows, std::span<const EdgeLine> lines) {
    if (fields_ > early_fields && fields_ % rise_interval != 1) return false;
    const double own = misfit(rows, lines, *filters_);
    for (std::size_t i = 0; i < neighbours_.size(); ++i) {
        const std::size_t index = rise_index_ + 2 * i - 1;
        if (index >= rises_px.size()) continue;
        auto& bank = neighbours_[i];
        if (!bank) bank = std::make_unique<FilterBank>(rises_px[index], filters_->noise, filters_->course);
        const double apart = misfit(rows, lines, *bank) - own;
        softer_fits_worse_[std::min(index, rise_index_)] += i == 1 ? apart : -apart;
    }
    std::size_t best = rise_index_;
    if (best > 0 && softer_fits_worse_[best - 1] > 0)
        --best;
    else if (best + 1 < rises_px.size() && softer_fits_worse_[best] < 0)
        ++best;
    if (best == rise_index_) return false;
    filters_ = std::move(neighbours_[best > rise_index_ ? 1 : 0]);
    neighbours_ = {};
    rise_index_ = best;
    return true;
}

bool EdgeShape::learn(const EdgeRows& rows, std::span<const EdgeLine> lines) {
    const bool renewed = learn_rise(rows, lines);
    learn_course(rows, lines);
    ++fields_;
    return renewed;
}

}  // namespace guardband::measure
