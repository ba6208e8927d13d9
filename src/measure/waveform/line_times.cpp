#include "measure/waveform/line_times.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "measure/sound/speed_spectrum.h"
#include "measure/time_base_components.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr double stretch_s = 1;
constexpr std::size_t least_lines = 100;
constexpr std::int64_t most_series = 1 << 20;
constexpr double lowest_component_hz = 1;
constexpr double least_spectrum_s = 2;
constexpr std::size_t most_components = 10;
constexpr double finest_ns = 0.1;              ///< what single precision and interpolation leave of an edge
constexpr double finest_relative_rate = 1e-9;  ///< and of a rate
/// A line that stands this far from both its neighbours, which agree, was timed on a disturbance. Microseconds.
constexpr double outlier_us = 2;

/// Root of a mean square that noise may have left below 0.
Figure root_figure(const Tally& square, double ns_per_sample) {
    const double mean = std::max(0.0, square.mean()), u = square.uncertainty();
    const double root = std::sqrt(mean);
    const double root_u = root * root > u ? u / (2 * root) : std::sqrt(u);
    return Figure::measured(root * ns_per_sample, std::max(root_u * ns_per_sample, finest_ns), "ns");
}

}  // namespace

LineTimes::LineTimes(const FieldLayout& layout, double rate_hz, const SyncShape& sync)
    : layout_(layout),
      rate_hz_(rate_hz),
      line_samples_(sync.line_samples),
      width_share_(sync.width_samples / sync.line_samples),
      head_switch_(rate_hz),
      uncounted_(layout.last_uncounted) {}

void LineTimes::see_line(const VideoLine& line) {
    if (!stretch_.empty() && line.sync.lead - stretch_.front().lead > stretch_s * rate_hz_) {
        close_stretch();
        stretch_.clear();
    }
    LineMoment moment{line.number, line.sync.lead, line.sync.trail, line.in_field};
    // Only sync of a line's width has a trailing edge that tells the line's place.
    if (line.kind != PulseKind::Line) moment.trail = NAN;
    if (line.field) {
        moment.field = line.field->field;
        moment.half_line = line.field->half_line;
        moment.field_place = line.field->place;
    }
    stretch_.push_back(moment);
}

bool LineTimes::counts(std::size_t i) const {
    const LineMoment& moment = stretch_[i];
    if (std::isnan(moment.trail)) return false;
    if (!saw_fields_) return true;  // without field sync every line is as good as another
    if (moment.in_field < layout_.first_counted || !to_next_field_[i]) return false;
    if (*to_next_field_[i] < uncounted_) return false;
    if (i == 0 || i + 1 == stretch_.size()) return true;
    const double outlier = outlier_us * 1e-6 * rate_hz_;
    const double before = moment.lead - stretch_[i - 1].lead, after = stretch_[i + 1].lead - moment.lead;
    return !(before - after > 2 * outlier || after - before > 2 * outlier) ||
           stretch_[i + 1].number != moment.number + 1 || stretch_[i - 1].number != moment.number - 1;
}

std::optional<LineTimes::Fit> LineTimes::fit(double LineMoment::*edge) const {
    double n = 0, sum_x = 0, sum_y = 0, xx = 0, xy = 0;
    const auto x0 = static_cast<double>(stretch_.front().number);
    const double y0 = stretch_.front().lead;
    const auto each = [&](auto&& take) {
        for (std::size_t i = 0; i < stretch_.size(); ++i)
            if (counts(i)) take(static_cast<double>(stretch_[i].number) - x0, stretch_[i].*edge - y0);
    };
    each([&](double x, double y) { n += 1, sum_x += x, sum_y += y; });
    if (n < static_cast<double>(least_lines)) return std::nullopt;
    Fit fit;
    const double mean_x = sum_x / n, mean_y = sum_y / n;
    each([&](double x, double y) { xx += (x - mean_x) * (x - mean_x), xy += (x - mean_x) * (y - mean_y); });
    fit.slope = xy / xx;
    fit.mean_number = mean_x + x0;
    fit.mean_place = mean_y + y0;
    return fit;
}

/// Distance of each line to the start of the next field; nothing in the last field of the stretch.
static std::vector<std::optional<double>> distances(const std::vector<LineMoment>& stretch, double line_samples) {
    std::vector<std::optional<double>> all(stretch.size());
    std::optional<double> next;
    std::int64_t field = stretch.empty() ? -1 : stretch.back().field;
    for (std::size_t i = stretch.size(); i-- > 0;) {
        if (stretch[i].field != field) {
            next = stretch[i + 1].field_place;
            field = stretch[i].field;
        }
        if (next) all[i] = (*next - stretch[i].lead) / line_samples;
    }
    return all;
}

void LineTimes::close_stretch() {
    if (stretch_.size() < least_lines) return;
    to_next_field_ = distances(stretch_, line_samples_);
    saw_fields_ = stretch_.back().field >= 0;
    // Where the heads change over tells which lines count; and to find it takes places against some line rate.
    if (const auto all = fit(&LineMoment::lead)) head_switch_.see_stretch(displaced_by(*all));
    if (const auto at = head_switch_.lines_before_sync()) uncounted_ = std::max<double>(layout_.last_uncounted, *at);
    const auto lead = fit(&LineMoment::lead), trail = fit(&LineMoment::trail);
    if (!lead || !trail) return;
    const auto lines = static_cast<double>(stretch_.size());
    slope_.add((lead->slope + trail->slope) / 2);
    weighted_slope_ += lines * (lead->slope + trail->slope) / 2;
    lines_in_slope_ += lines;
    if (sink_) write_rows(*lead);
    add_squares(*lead, *trail);
    keep_series(displaced_by(*lead));
}

void LineTimes::write_rows(const Fit& fit) const {
    for (std::size_t i = 0; i < stretch_.size(); ++i) {
        const LineMoment& moment = stretch_[i];
        const auto number = static_cast<double>(moment.number);
        const double field = moment.field < 0 ? NAN : static_cast<double>(moment.field);
        const double in_field = moment.in_field < 0 ? NAN : static_cast<double>(moment.in_field);
        const std::array<double, series_columns.size()> row{moment.lead / rate_hz_,
                                                            number,
                                                            field,
                                                            in_field,
                                                            (moment.lead - fit.at(number)) / rate_hz_ * 1e9,
                                                            (moment.trail - moment.lead) / rate_hz_ * 1e6,
                                                            counts(i) ? 1.0 : 0.0};
        sink_(row);
    }
}

std::vector<DisplacedLine> LineTimes::displaced_by(const Fit& fit) const {
    std::vector<DisplacedLine> all;
    for (const LineMoment& moment : stretch_)
        all.push_back({moment, moment.lead - fit.at(static_cast<double>(moment.number))});
    return all;
}

void LineTimes::keep_series(const std::vector<DisplacedLine>& lines) {
    for (const DisplacedLine& d : lines) {
        if (static_cast<std::int64_t>(series_.size()) >= most_series) break;
        // A line without sync takes the place that the one before it had.
        const auto missing =
            last_in_series_ < 0 ? 0 : std::min<std::int64_t>(50, d.moment.number - last_in_series_ - 1);
        for (std::int64_t i = 0; i < missing; ++i) series_.push_back(series_.back());
        series_.push_back(static_cast<float>(d.samples));
        last_in_series_ = d.moment.number;
    }
}

namespace {

/// Sums over a field of products of what the two edges say.
struct EdgeProducts {
    double places = 0, steps = 0, next_steps = 0;
    int place_count = 0, step_count = 0, next_count = 0;

    /// ½ ⟨(dᵢ₊₁ − dᵢ)²⟩ of the lines' places d. The trailing edge stands at d + w (dᵢ₊₁ − dᵢ), w being sync's share of
    /// a line; so a product of the edges' steps lacks w of the square and has w of that of a step and the next.
    double step_square(double w) const {
        const double next = next_count > 0 ? next_steps / next_count : 0;
        return (steps / step_count - w * next) / (1 - w) / 2;
    }
    /// ⟨d²⟩, likewise.
    double square(double w) const { return places / place_count + (step_count > 0 ? w * step_square(w) : 0); }
};

}  // namespace

/// Mean squares of each field, so that their scatter tells the uncertainty.
void LineTimes::add_squares(const Fit& lead, const Fit& trail) {
    EdgeProducts products;
    double last_lead = 0, last_trail = 0, last_lead_step = NAN;
    std::int64_t last_number = -2, field = -2;
    const auto close_field = [&] {
        if (products.place_count > 10) square_.add(products.square(width_share_));
        if (products.step_count > 10) step_square_.add(products.step_square(width_share_));
        products = {};
    };
    for (std::size_t i = 0; i < stretch_.size(); ++i) {
        const LineMoment& moment = stretch_[i];
        if (moment.field != field || products.place_count == 500) close_field();
        field = moment.field;
        if (!counts(i)) continue;
        const auto number = static_cast<double>(moment.number);
        const double a = moment.lead - lead.at(number), b = moment.trail - trail.at(number);
        products.places += a * b;
        ++products.place_count;
        ++counted_;
        if (moment.number == last_number + 1) {
            products.steps += (a - last_lead) * (b - last_trail);
            ++products.step_count;
            if (!std::isnan(last_lead_step))
                products.next_steps += last_lead_step * (b - last_trail), ++products.next_count;
            last_lead_step = a - last_lead;
        } else {
            last_lead_step = NAN;
        }
        last_number = moment.number;
        last_lead = a;
        last_trail = b;
    }
    close_field();
}

Figure LineTimes::components() const {
    const double line_hz = rate_hz_ / (weighted_slope_ / lines_in_slope_);
    const double seconds = static_cast<double>(series_.size()) / line_hz;
    if (seconds < least_spectrum_s)
        return Figure::unknown(
            fmt::format("a spectrum takes {:g} s of lines or more; there are {:.1f} s", least_spectrum_s, seconds));
    const SpeedSpectrum spectrum = find_lines(series_, line_hz, {lowest_component_hz, 0.45 * line_hz, 0, 0});
    std::vector<quantity::Component> components;
    for (const SpeedLine& line : spectrum.lines) {
        if (components.size() == most_components) break;
        const double amplitude_ns = 1e9 * line.depth / rate_hz_;
        if (amplitude_ns >= finest_ns) components.push_back(time_base_component(line.hz, amplitude_ns));
    }
    return Figure::components(std::move(components));
}

void LineTimes::finish(quantity::Figures& figures) {
    close_stretch();
    if (slope_.count() == 0) {
        const std::string why = "fewer than a hundred lines of picture could be timed";
        for (const char* id : {"line_rate", "time_base_error_rms", "line_jitter_rms", "time_base_components"})
            figures.add(id, Figure::unknown(why));
        head_switch_.finish(figures);
        return;
    }
    const double samples = weighted_slope_ / lines_in_slope_;
    const double hz = rate_hz_ / samples;
    // One stretch: what its own displacement leaves sure of a slope over all its lines.
    const double alone = std::sqrt(std::max(square_.mean(), 1e-6)) * std::sqrt(12.0) / std::pow(lines_in_slope_, 1.5);
    const double u = std::max(slope_.count() > 1 ? slope_.uncertainty() : alone, finest_relative_rate * samples);
    figures.add("line_rate", Figure::measured(hz, hz * u / samples, "Hz").with_note("by the sampling clock"));
    const double ns = 1e9 / rate_hz_;
    figures.add("time_base_error_rms",
                root_figure(square_, ns)
                    .with_note(fmt::format("{} lines against the best constant rate of each second", counted_)));
    figures.add("line_jitter_rms", root_figure(step_square_, ns));
    figures.add("time_base_components", components());
    head_switch_.finish(figures);
}

}  // namespace guardband::measure
