#include "measure/clip/colour_state.h"

#include <algorithm>
#include <cmath>
#include <complex>

#include <fmt/format.h>

#include "measure/clip/picture_sketch.h"

namespace guardband::measure {
namespace {

using quantity::Event;
using quantity::Severity;

constexpr float chroma_zero = 128;
/// Rows of colour looked at: three in so many, of the two fields and the next of the first.
constexpr int row_step = 16;
/// All in 8-bit codes RMS: colour that can be missed, what is left of lost colour, a component that can alternate.
constexpr double least_colour = 5, most_left = 1.2, least_component = 4;
/// Share of the colour before at which it is back.
constexpr double is_back = 0.4;
/// Likeness of the brightness of one frame to the next within a scene.
constexpr double same_scene = 0.8;
/// Colours are unlike below, alike above. Motion within a scene leaves 0.9.
constexpr double unlike = 0.3, alike = 0.7;
constexpr std::int64_t fewest_frames = 6, fewest_lost = 2;
constexpr std::size_t capacity = 1000;

/// Whether the one is the other turned by some angle, or mirrored, as a wrong phase makes it. Colours that have nothing
/// to do with each other are not.
bool turned(const std::array<std::vector<float>, 2>& a, const std::array<std::vector<float>, 2>& b) {
    std::complex<double> product, mirrored;
    double aa = 0, bb = 0;
    for (std::size_t i = 0; i < std::min(a[0].size(), b[0].size()); ++i) {
        const std::complex<double> one(static_cast<double>(a[0][i]), static_cast<double>(a[1][i]));
        const std::complex<double> other(static_cast<double>(b[0][i]), static_cast<double>(b[1][i]));
        product += one * std::conj(other), mirrored += one * other;
        aa += std::norm(one), bb += std::norm(other);
    }
    return std::max(std::abs(product), std::abs(mirrored)) >= static_cast<double>(alike) * std::sqrt(aa * bb);
}

/// 0 if they differ in length.
double mean_product(const std::vector<float>& a, const std::vector<float>& b) {
    if (a.size() != b.size() || a.empty()) return 0;
    double sum = 0;
    for (std::size_t i = 0; i < a.size(); ++i) sum += static_cast<double>(a[i]) * static_cast<double>(b[i]);
    return sum / static_cast<double>(a.size());
}

/// Whether either component is unlike between the two, both having some.
bool differ(const std::array<std::vector<float>, 2>& a, const std::array<std::vector<float>, 2>& b) {
    if (!turned(a, b)) return false;
    for (std::size_t c = 0; c < 2; ++c)
        if (rms(a[c]) >= least_component && rms(b[c]) >= least_component && likeness(a[c], b[c]) < unlike) return true;
    return false;
}

bool agree(const std::array<std::vector<float>, 2>& a, const std::array<std::vector<float>, 2>& b) {
    for (std::size_t c = 0; c < 2; ++c)
        if (rms(a[c]) >= least_component && likeness(a[c], b[c]) < alike) return false;
    return true;
}

}  // namespace

ColourState::ColourState(const ClipContext& context)
    : clock_(context.info.time_base), code_(1 << std::max(0, context.info.picture.bit_depth - 8)) {}

template <typename Sample>
void ColourState::add_row(const media::Plane& plane, int y, std::vector<float>& means) {
    sums_.assign(static_cast<std::size_t>(plane.width / rows::segment_samples), 0);
    rows::fast_kernels<Sample>().add_segment_sums(reinterpret_cast<const Sample*>(plane.row(y)), plane.width,
                                                  sums_.data());
    const auto per_code = static_cast<float>(rows::segment_samples * code_);
    for (const std::uint32_t sum : sums_) means.push_back(static_cast<float>(sum) / per_code - chroma_zero);
}

void ColourState::gather(const media::Frame& frame) {
    std::swap(before_that_, before_), std::swap(before_, now_);
    for (std::size_t c = 0; c < 2; ++c) {
        for (auto* colours : {&now_, &other_field_, &next_line_}) (*colours)[c].clear();
        const media::Plane& plane = frame.planes[c + 1];
        const auto add = [&](int y, std::vector<float>& means) {
            frame.format.bit_depth > 8 ? add_row<std::uint16_t>(plane, y, means)
                                       : add_row<std::uint8_t>(plane, y, means);
        };
        for (int y = row_step / 2; y + 2 < plane.height; y += row_step) {
            add(y, now_[c]), add(y + 1, other_field_[c]), add(y + 2, next_line_[c]);
        }
    }
}

/// By the product of one line and the next of its field, whose noise is not alike: a tape's noise goes on where colour
/// is lost. Its magnitude, since colours may alternate from line to line.
double ColourState::strength() const {
    double squares = 0;
    for (std::size_t c = 0; c < 2; ++c) squares += std::abs(mean_product(now_[c], next_line_[c]));
    return std::sqrt(squares);
}

void ColourState::see(const media::Frame& frame, const FrameFeatures& features) {
    if (!frame.format.has_chroma) return;
    const double time_s = clock_.time_s(frame);
    std::swap(sketch_before_, sketch_);
    sketch_picture(features, sketch_);
    gather(frame);
    ++frames_;
    const bool goes_on = frames_ > 1 && likeness(sketch_, sketch_before_) >= same_scene;
    watch_loss(frame.index, time_s, goes_on);
    watch(From::Frame, goes_on && frames_ > 2 && alternates_by_frame(), frame.index, time_s);
    const bool steady = goes_on && agree(now_, before_);
    watch(From::Field, steady && differ(now_, other_field_) && agree(now_, next_line_), frame.index, time_s);
    watch(From::Line, steady && differ(now_, next_line_), frame.index, time_s);
}

bool ColourState::alternates_by_frame() const { return differ(now_, before_) && agree(now_, before_that_); }

void ColourState::watch_loss(std::int64_t frame, double time_s, bool goes_on) {
    const double now = strength();
    if (lost_) {
        const bool back = now >= is_back * usual_;
        if (!back && goes_on) {
            ++lost_->frames;
        } else {
            if (lost_->frames >= fewest_lost && losses_.size() < capacity) losses_.push_back(*lost_);
            lost_.reset();
        }
    } else if (goes_on && now <= most_left && std::max(strength_before_, usual_) >= least_colour &&
               (strength_before_ >= least_colour || usual_ >= least_colour)) {
        lost_ = Stretch{frame, 1, time_s};
    }
    // Of the two frames before, in this scene: a loss may fall within a frame.
    if (!lost_) usual_ = goes_on ? std::max(strength_before_, now) : now;
    strength_before_ = now;
}

void ColourState::watch(From from, bool alternates, std::int64_t frame, double time_s) {
    Alternation& a = alternations_[static_cast<std::size_t>(from)];
    if (!alternates) return end(a);
    if (a.stretch.frames == 0) a.stretch = {frame, 0, time_s};
    ++a.stretch.frames;
}

void ColourState::end(Alternation& a) {
    if (a.stretch.frames >= fewest_frames && a.all.size() < capacity) a.all.push_back(a.stretch);
    a.stretch.frames = 0;
}

void ColourState::finish(quantity::Figures&, std::vector<Event>& events) {
    if (lost_ && lost_->frames >= fewest_lost) losses_.push_back(*lost_);
    const auto tell = [&events](const char* kind, const Stretch& s, std::string what) {
        Event event;
        event.kind = kind, event.severity = Severity::Fault;
        event.time_s = s.time_s, event.frame = s.frame, event.count = s.frames;
        event.what = std::move(what);
        events.push_back(std::move(event));
    };
    for (const Stretch& s : losses_)
        tell("colour lost", s, fmt::format("no colour, {} frames, while the picture goes on", s.frames));
    for (std::size_t i = 0; i < alternations_.size(); ++i) {
        end(alternations_[i]);
        const char* of = i == 0 ? "frame to frame" : i == 1 ? "field to field" : "line to line";
        for (const Stretch& s : alternations_[i].all)
            tell("colour alternates", s, fmt::format("colours change from {}, {} frames", of, s.frames));
    }
}

}  // namespace guardband::measure
