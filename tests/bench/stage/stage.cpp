#include "stage/stage.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <stdexcept>

namespace guardband::bench {
namespace {

using testsignal::Random;
using testsignal::Rows;

constexpr std::uint64_t noise_stream = 1, loss_stream = 2, burst_stream = 3;
constexpr double samples_per_us = 13.5;

}  // namespace

StageReader::StageReader(const StageSettings& settings, std::vector<Act> acts, std::optional<LossSettings> losses)
    : settings_(settings), acts_(std::move(acts)), losses_(std::move(losses)) {
    info_.path = "stage", info_.container = "none", info_.codec = "none";
    info_.picture.width = settings.width, info_.picture.height = settings.height;
    info_.picture.bit_depth = settings.bit_depth, info_.picture.chroma_shift_x = 1;
    info_.declared_frame_rate = settings.frame_rate;
    info_.time_base = quantity::Rational(settings.frame_rate.denominator(), settings.frame_rate.numerator());
    info_.declared_order = settings.progressive    ? media::DeclaredOrder::Progressive
                           : settings.bottom_first ? media::DeclaredOrder::BottomFirst
                                                   : media::DeclaredOrder::TopFirst;
    const auto samples = static_cast<std::size_t>(settings.width) * static_cast<std::size_t>(settings.height);
    planes_.luma.resize(samples), planes_.cb.resize(samples / 2), planes_.cr.resize(samples / 2);
    frame_count_ = std::llround(settings.duration_s * settings.frame_rate.value());
}

void StageReader::shoot(std::int64_t number, Rows rows) {
    Shot shot;
    shot.width = settings_.width, shot.height = settings_.height, shot.rows = rows, shot.number = number;
    shot.period_s = 1 / settings_.frame_rate.value() / (settings_.progressive ? 1 : 2);
    shot.time_s = static_cast<double>(number) * shot.period_s;
    const int lines = settings_.height / shot.step();
    picture_.luma.resize(settings_.width, lines);
    picture_.cb.resize(settings_.width / 2, lines), picture_.cr.resize(settings_.width / 2, lines);
    for (const Act& act : acts_) act(shot, picture_);
}

/// The losses of a field; those that reach over the right edge are cut.
std::vector<Lost> StageReader::lose(std::int64_t number) {
    std::vector<Lost> out;
    if (!losses_) return out;
    Random random(testsignal::mixed_seed(settings_.seed, loss_stream, static_cast<std::uint64_t>(number)));
    const auto pick = [&random](const auto& list) {
        return list[static_cast<std::size_t>(random.uniform() * static_cast<double>(list.size()))];
    };
    const double width_us = settings_.width / samples_per_us;
    for (double sum = -std::log(1 - random.uniform()); sum < losses_->per_field;
         sum -= std::log(1 - random.uniform())) {
        Lost lost;
        lost.as = pick(losses_->kinds), lost.field = number;
        lost.length_us = pick(losses_->lengths_us), lost.start_us = random.uniform(0, width_us - lost.length_us);
        const int lines = 1 + static_cast<int>(random.uniform() * losses_->most_lines);
        const int top = 1 + static_cast<int>(random.uniform() * (settings_.height / 2.0 - 7));
        for (int line = 0; line < lines; ++line) {
            lost.line = top + line;
            out.push_back(lost);
        }
    }
    return out;
}

/// Sets what the player's output gives where the carrier is lost. Its edges rise in two to three samples.
void StageReader::spoil(Lost& lost) {
    if (lost.as == LostAs::Held) return;
    Random random(testsignal::mixed_seed(settings_.seed, burst_stream + static_cast<std::uint64_t>(lost.field),
                                         static_cast<std::uint64_t>(lost.line + 1000 * lost.start_us)));
    const double level = lost.as == LostAs::Bright ? random.uniform(1.0, 1.08)
                         : lost.as == LostAs::Dark ? random.uniform(-0.07, 0.0)
                                                   : random.uniform(0.3, 0.7);
    const double from = lost.start_us * samples_per_us, to = from + lost.length_us * samples_per_us;
    constexpr double rise = 2.5;
    float* row = picture_.luma.row(lost.line);
    double burst = 0, change = 0;
    for (int x = std::max(0, static_cast<int>(from - rise)); x < std::min<double>(settings_.width, to + rise); ++x) {
        const double share = std::clamp(std::min(x - from, to - x) / rise + 0.5, 0.0, 1.0);  // half way up at both ends
        if (lost.as == LostAs::Noise) burst = 0.5 * burst + 0.26 * random.gaussian();
        const double value = std::clamp(lost.as == LostAs::Noise ? 0.5 + burst : level, -0.07, 1.09);
        change += std::abs(share * (value - row[x]));
        row[x] = static_cast<float>(row[x] + share * (value - row[x]));
    }
    lost.change = change / (to - from);
}

void StageReader::store(std::int64_t number, Rows rows, std::vector<Lost> lost) {
    for (Lost& one : lost) spoil(one);
    Random random(testsignal::mixed_seed(settings_.seed, noise_stream, static_cast<std::uint64_t>(number)));
    const int step = rows == Rows::All ? 1 : 2, first = rows == Rows::Bottom ? 1 : 0;
    const auto scale = static_cast<float>(1 << (settings_.bit_depth - 8));
    const float noise_codes = settings_.snr_db ? 219 * static_cast<float>(std::pow(10, -*settings_.snr_db / 20)) : 0;
    noise_.resize(static_cast<std::size_t>(settings_.width));
    const auto put = [&](const testsignal::FloatPlane& from, std::vector<std::uint16_t>& to, float zero, float range) {
        const auto width = static_cast<std::size_t>(from.width);
        for (int r = 0; r < from.height; ++r) {
            std::uint16_t* out = to.data() + static_cast<std::size_t>(first + step * r) * width;
            if (noise_codes > 0) random.fill_gaussian({noise_.data(), width});
            const float* in = from.row(r);
            for (std::size_t x = 0; x < width; ++x) {
                const float code = scale * (zero + range * in[x] + (noise_codes > 0 ? noise_codes * noise_[x] : 0));
                out[x] = static_cast<std::uint16_t>(std::clamp(code + 0.5F, scale, 255 * scale - 1));
            }
        }
    };
    put(picture_.luma, planes_.luma, 16, 219);
    put(picture_.cb, planes_.cb, 128, 224);
    put(picture_.cr, planes_.cr, 128, 224);
    for (const Lost& one : lost)
        if (one.as == LostAs::Held) hold(one, rows);
    lost_.insert(lost_.end(), lost.begin(), lost.end());
}

/// Fills with the samples of the line above, noise included, as a player does that finds the carrier missing.
void StageReader::hold(const Lost& lost, Rows rows) {
    const int y = 2 * lost.line + (rows == Rows::Bottom ? 1 : 0);
    auto* row = planes_.luma.data() + static_cast<std::ptrdiff_t>(y) * settings_.width;
    const auto from = static_cast<int>(std::lround(lost.start_us * samples_per_us)),
               to = static_cast<int>(std::lround((lost.start_us + lost.length_us) * samples_per_us));
    std::copy(row + from - 2 * settings_.width, row + std::min(to, settings_.width) - 2 * settings_.width, row + from);
}

std::optional<media::Frame> StageReader::next() {
    if (next_ >= frame_count_) return std::nullopt;
    if (settings_.progressive) {
        shoot(next_, Rows::All);
        store(next_, Rows::All, {});
    } else {
        for (int half = 0; half < 2; ++half) {
            const std::int64_t number = 2 * next_ + half;
            const Rows rows = (half == 0) == settings_.bottom_first ? Rows::Bottom : Rows::Top;
            shoot(number, rows);
            store(number, rows, lose(number));
        }
    }
    media::Frame frame = support::make_frame(info_.picture, planes_, next_++);
    frame.declared_order = info_.declared_order;
    return frame;
}

void encode(StageReader& clip, const std::string& arguments) {
    const media::PictureFormat& format = clip.info().picture;
    const std::string command = fmt::format("ffmpeg -v error -y -f rawvideo -pix_fmt {} -s {}x{} -r {}/{} -i - {}",
                                            format.bit_depth > 8 ? "yuv422p10le" : "yuv422p", format.width,
                                            format.height, clip.info().declared_frame_rate->numerator(),
                                            clip.info().declared_frame_rate->denominator(), arguments);
    FILE* pipe = popen(command.c_str(), "w");
    if (pipe == nullptr) throw std::runtime_error("no shell");
    while (const auto frame = clip.next())
        for (const media::Plane& plane : frame->planes)
            for (int y = 0; y < plane.height; ++y)
                std::fwrite(plane.row(y), format.bit_depth > 8 ? 2 : 1, static_cast<std::size_t>(plane.width), pipe);
    if (pclose(pipe) != 0) throw std::runtime_error(command);
}

}  // namespace guardband::bench
