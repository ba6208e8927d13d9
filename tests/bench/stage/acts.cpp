#include "stage/acts.h"

#include <algorithm>
#include <cmath>

namespace guardband::bench {
namespace {

using testsignal::Picture;
using testsignal::Random;

double chance(std::uint64_t seed, std::uint64_t a, std::uint64_t b = 0) {
    return static_cast<double>(testsignal::mixed_seed(seed, a, b) >> 11U) * 0x1p-53;
}

double wrapped(double at, double size) {
    at = std::fmod(at, size);
    return at < 0 ? at + size : at;
}

/// A stroke between two points as a camera sees it: each sample takes in its own width and the aperture's height.
struct Stroke {
    double x0, y0, x1, y1;  ///< samples, frame lines
    double half_wide, half_high;
    float level, cover;
};

void paint(const Shot& shot, Picture& out, const Stroke& s, bool soft = true) {
    constexpr int across = 3, down = 4;
    const double high = soft ? shot.aperture_lines() : 0.01;
    const int left = std::max(0, static_cast<int>(std::min(s.x0, s.x1) - s.half_wide - 1)),
              right = std::min(shot.width - 1, static_cast<int>(std::max(s.x0, s.x1) + s.half_wide + 2));
    const double top = std::min(s.y0, s.y1) - s.half_high - high, bottom = std::max(s.y0, s.y1) + s.half_high + high;
    const double dx = s.x1 - s.x0, dy = s.y1 - s.y0;
    // Distances are taken with the height stretched to the width.
    const double stretch = s.half_wide / s.half_high, length2 = dx * dx + dy * dy * stretch * stretch;
    for (int r = std::max(0, static_cast<int>((top - shot.first()) / shot.step())); r < out.luma.height; ++r) {
        const int y = shot.frame_row(r);
        if (y < top) continue;
        if (y > bottom) break;
        for (int x = left; x <= right; ++x) {
            int inside = 0;
            for (int j = 0; j < down; ++j)
                for (int i = 0; i < across; ++i) {
                    const double px = x + (i - 1) / 3.0 - s.x0, py = (y + (j - 1.5) / down * high - s.y0) * stretch;
                    const double along =
                        length2 > 0 ? std::clamp((px * dx + py * dy * stretch) / length2, 0.0, 1.0) : 0;
                    const double ex = px - along * dx, ey = py - along * dy * stretch;
                    inside += ex * ex + ey * ey <= s.half_wide * s.half_wide ? 1 : 0;
                }
            const float share = s.cover * static_cast<float>(inside) / (across * down);
            float& sample = out.luma.row(r)[x];
            sample += share * (s.level - sample);
        }
    }
}

/// A level bar. @param soft  false: it ends at whole lines and samples, as drawn by a computer
void paint_bar(const Shot& shot, Picture& out, double x, double y, double wide, double high, float level,
               bool soft = true, float cover = 1) {
    const double a = soft ? shot.aperture_lines() / 2 : 0.5;
    if (!soft) x = std::floor(x), y = std::floor(y);
    for (int r = 0; r < out.luma.height; ++r) {
        const double row = shot.frame_row(r) + 0.5;
        const double vertical = (std::min(row + a, y + high) - std::max(row - a, y)) / (2 * a);
        if (vertical <= 0) continue;
        for (int i = std::max(0, static_cast<int>(x) - 1); i < std::min<double>(shot.width, x + wide + 1); ++i) {
            const double level_share = std::clamp(std::min(i + 1.0, x + wide) - std::max<double>(i, x), 0.0, 1.0);
            const auto share = cover * static_cast<float>(level_share * std::min(1.0, vertical));
            out.luma.row(r)[i] += share * (level - out.luma.row(r)[i]);
        }
    }
}

void light(Picture& out, float by, float most) {
    for (float& sample : out.luma.samples) sample = std::min(most, sample * by);
}

}  // namespace

Act falling(const Fall& f, std::uint64_t seed) {
    return [=](const Shot& shot, Picture& out) {
        for (int i = 0; i < f.count; ++i) {
            const auto n = static_cast<std::uint64_t>(i);
            const double by = 1 + f.scatter * (2 * chance(seed, n, 1) - 1),
                         side = f.scatter * (2 * chance(seed, n, 2) - 1);
            const double vx = f.right_px_s * by + f.down_px_s * side * 0.5,
                         vy = f.down_px_s * by + f.right_px_s * side * 0.2;
            const double x = wrapped(chance(seed, n, 3) * 2000 + vx * shot.time_s, shot.width + 160) - 80,
                         y = wrapped(chance(seed, n, 4) * 2000 + vy * shot.time_s, shot.height + 160) - 80;
            const double radius = f.radius_px * (0.6 + 0.8 * chance(seed, n, 5));
            // What it hides or adds is spread along its streak.
            const double cover = f.strength * 2 * radius / (2 * radius + std::hypot(vx, vy) * f.exposure_s);
            paint(shot, out,
                  {x, y, x + vx * f.exposure_s, y + vy * f.exposure_s, radius, radius, f.level,
                   static_cast<float>(std::min(1.0, cover))});
        }
    };
}

Act sparks(double per_s, int each, double speed_px_s, double exposure_s, std::uint64_t seed) {
    return [=](const Shot& shot, Picture& out) {
        constexpr double life_s = 1.2, drag_s = 0.4, gravity = 120;
        const auto last = static_cast<std::int64_t>(shot.time_s * per_s);
        for (std::int64_t burst = std::max<std::int64_t>(0, last - static_cast<std::int64_t>(life_s * per_s) - 1);
             burst <= last; ++burst) {
            const auto b = static_cast<std::uint64_t>(burst);
            const double age = shot.time_s - static_cast<double>(burst) / per_s;
            if (age > life_s) continue;
            const double x0 = (0.2 + 0.6 * chance(seed, b, 1)) * shot.width,
                         y0 = (0.2 + 0.5 * chance(seed, b, 2)) * shot.height;
            for (int i = 0; i < each; ++i) {
                const auto n = static_cast<std::uint64_t>(i) + 10;
                const double angle = 6.2832 * chance(seed, b, n), v = speed_px_s * std::sqrt(chance(seed + 1, b, n));
                const auto place = [&](double t) { return v * drag_s * (1 - std::exp(-t / drag_s)); };
                const double from = place(age), to = place(age + exposure_s);
                const double fall = gravity * age * age;
                const auto level = static_cast<float>(1.1 - 0.5 * age / life_s);
                paint(shot, out,
                      {x0 + from * std::cos(angle), y0 + from * std::sin(angle) + fall, x0 + to * std::cos(angle),
                       y0 + to * std::sin(angle) + fall, 1.2, 1.2, level,
                       static_cast<float>(std::min(1.0, 1.6 * (1 - age / life_s)))});
            }
        }
    };
}

Act confetti(int count, double wide_px, double high_px, std::uint64_t seed) {
    return [=](const Shot& shot, Picture& out) {
        for (int i = 0; i < count; ++i) {
            const auto n = static_cast<std::uint64_t>(i);
            const double vy = 120 + 200 * chance(seed, n, 1), turn_hz = 1 + 5 * chance(seed, n, 2);
            const double phase = 6.2832 * (turn_hz * shot.time_s + chance(seed, n, 3));
            const double sway = 40 * std::sin(2 * shot.time_s + i);
            const double x = wrapped(chance(seed, n, 4) * 2000 + sway, shot.width + 40) - 20,
                         y = wrapped(chance(seed, n, 5) * 2000 + vy * shot.time_s, shot.height + 40) - 20;
            const double open = std::abs(std::cos(phase)), glint = wrapped(phase, 6.2832);
            const bool shines = glint > 0.4 && glint < 0.55;
            const auto base = static_cast<float>(0.1 + 0.8 * chance(seed, n, 6));
            const auto level = shines ? 1.08F : base * static_cast<float>(0.5 + 0.5 * open);
            const double lean = 3.1416 * chance(seed, n, 7) + 0.6 * std::sin(3 * shot.time_s + i);
            const double dx = wide_px / 2 * std::cos(lean), dy = wide_px / 2 * std::sin(lean);
            const double half = std::max(0.3, high_px / 2 * open);
            paint(shot, out, {x - dx, y - dy, x + dx, y + dy, half, half, level, 1});
        }
    };
}

Act glitter(int count, double widest_px, double life_s, std::uint64_t seed) {
    return [=](const Shot& shot, Picture& out) {
        for (int i = 0; i < count; ++i) {
            const auto n = static_cast<std::uint64_t>(i);
            // Each place lights up anew from time to time.
            const double pause = 0.15 + 0.5 * chance(seed, n, 1);
            const double clock = shot.time_s / pause + chance(seed, n, 2);
            const auto turn = static_cast<std::uint64_t>(clock);
            const double age = (clock - std::floor(clock)) * pause,
                         life = -life_s * std::log(1 - chance(seed, n, turn + 9));
            const double lit =
                std::clamp(std::min(age + shot.period_s, life) - age, 0.0, shot.period_s) / shot.period_s;
            if (lit <= 0) continue;
            const double wide = 2 + (widest_px - 2) * std::pow(chance(seed + 1, n, turn), 2.0);
            const double x = shot.width * chance(seed + 2, n, turn),
                         y = shot.height * (0.3 + 0.7 * chance(seed + 3, n, turn));
            paint(shot, out,
                  {x, y, x + 0.1, y, wide / 2, 0.5 + wide / 20, static_cast<float>(1.15), static_cast<float>(lit)});
        }
    };
}

Act camera_flashes(double per_s, std::uint64_t seed) {
    return [=](const Shot& shot, Picture& out) {
        if (chance(seed, static_cast<std::uint64_t>(shot.number)) > per_s * shot.period_s) return;
        const auto n = static_cast<std::uint64_t>(shot.number);
        light(out, static_cast<float>(1.3 + chance(seed, n, 1)), 1.09F);
        const double x = shot.width * chance(seed, n, 2), y = shot.height * chance(seed, n, 3);
        paint(shot, out, {x, y, x, y, 14, 10, 1.09F, 1});
        paint(shot, out, {x - 60, y, x + 60, y, 1.5, 1.5, 1.09F, 0.8F});
        paint(shot, out, {x, y - 40, x, y + 40, 1.5, 1.5, 1.09F, 0.8F});
    };
}

Act strobe(double rate_hz, double lit_share) {
    return [=](const Shot& shot, Picture& out) {
        const bool lit = wrapped(shot.time_s * rate_hz, 1) < lit_share;
        light(out, lit ? 1.5F : 0.12F, 1.09F);
    };
}

Act crowd(int count, std::uint64_t seed) {
    return [=](const Shot& shot, Picture& out) {
        for (int i = 0; i < count; ++i) {
            const auto n = static_cast<std::uint64_t>(i);
            const double stir = 3 + 8 * chance(seed, n, 1), rate = 4 + 10 * chance(seed, n, 2);
            const double x = shot.width * chance(seed, n, 3) + stir * std::sin(rate * shot.time_s + i),
                         y = shot.height * chance(seed, n, 4) + stir * std::sin(1.3 * rate * shot.time_s + 2 * i);
            const double wide = 2 + 12 * chance(seed, n, 5), high = 1 + 3 * chance(seed, n, 6);
            paint(shot, out,
                  {x - wide, y, x + wide, y, high, high, static_cast<float>(1.1 * chance(seed, n, 7) - 0.03), 1});
        }
    };
}

Act flags(double stripe_lines, double rate_hz) {
    return [=](const Shot& shot, Picture& out) {
        const double t = 6.2832 * rate_hz * shot.time_s, soft = shot.aperture_lines();
        for (int r = 0; r < out.luma.height; ++r)
            for (int x = 60; x < shot.width - 60; ++x) {
                const double lift = 12 * std::sin(0.02 * x - t) + 5 * std::sin(0.055 * x - 1.7 * t);
                const double y = shot.frame_row(r) - 60 - lift;
                if (y < 0 || y > shot.height - 120) continue;
                const double phase = wrapped(y / stripe_lines, 2);  // bright below 1
                const double edge = std::min({phase, std::abs(phase - 1), 2 - phase}) * stripe_lines / soft * 2;
                const double side = phase < 1 ? 1 : -1;
                const double shade = 1 + 0.15 * std::sin(0.02 * x - t + 0.8);
                out.luma.row(r)[x] = static_cast<float>((0.5 + 0.46 * side * std::min(1.0, edge)) * shade);
            }
    };
}

Act pitch(double sweep_px_s, std::uint64_t seed) {
    return [=](const Shot& shot, Picture& out) {
        const double t = shot.time_s, sweep = 220 * std::sin(sweep_px_s / 220 * t);
        // Lines of chalk, nearly level, and upright ones. Those that come into sight are others than those that left:
        // else the picture would roll.
        for (int i = -3; i < 11; ++i) {
            const double y = 70 * i + 40 * chance(seed, static_cast<std::uint64_t>(i + 3), 3) + 0.5 * sweep;
            const double slant = 0.02 * (i - 3);
            paint(shot, out, {-10, y, shot.width + 10.0, y + slant * shot.width, 1.6, 1.6, 1.0F, 0.95F});
        }
        for (int i = 0; i < 7; ++i) {
            const double x = wrapped(150 * i + sweep, shot.width + 100) - 50;
            paint(shot, out, {x, 0, x + 60, shot.height + 0.0, 1.8, 1.8, 1.0F, 0.95F});
        }
        for (int i = 0; i < 12; ++i) {
            const auto n = static_cast<std::uint64_t>(i);
            const double x = wrapped(700 * chance(seed, n, 1) + (60 + 250 * chance(seed, n, 2)) * t + sweep, 800) - 40,
                         y = 40 + 480 * chance(seed, n, 3) + 6 * std::sin(12 * t + i);
            for (int band = 0; band < 5; ++band)
                paint_bar(shot, out, x, y + 6 * band, 34, 6, band % 2 == 0 ? 1.02F : -0.02F);
            paint(shot, out, {x + 8, y + 30, x + 8 + 9 * std::sin(15 * t + i), y + 55, 3, 3, 0.9F, 1});
        }
        const double bx = wrapped(1700 * t, 900) - 90, by = 300 + 180 * std::sin(2.1 * t);
        paint(shot, out, {bx, by, bx + 1700 * 0.01, by + 4, 4, 4, 1.05F, 1});
    };
}

Act titles(double up_px_s, double left_px_s, bool soft, std::uint64_t seed) {
    return [=](const Shot& shot, Picture& out) {
        const double up = up_px_s * shot.time_s, left = left_px_s * shot.time_s;
        for (int row = 0; row < (up_px_s != 0 ? 14 : 2); ++row)
            for (int sign = 0; sign < 26; ++sign) {
                const double y = up_px_s != 0 ? wrapped(row * 46 - up, 644) - 40 : 430 + 46 * row;
                const double x = 30 + wrapped(sign * 28 - left, 728);
                const auto n = static_cast<std::uint64_t>(sign + 26 * row);
                if (chance(seed, n) < 0.2) continue;  // a space
                for (int part = 0; part < 5; ++part) {
                    const bool level = chance(seed, n, static_cast<std::uint64_t>(part) + 1) < 0.5;
                    const double px = x + (level ? 0 : 7.0 * part), py = y + (level ? 7.0 * part : 0);
                    paint_bar(shot, out, px + 2, py + 2, level ? 22 : 3, level ? 2 : 28, -0.02F, soft);
                    paint_bar(shot, out, px, py, level ? 22 : 3, level ? 2 : 28, 1.0F, soft);
                }
            }
    };
}

Act gauges(std::uint64_t seed) {
    return [=](const Shot& shot, Picture& out) {
        for (int i = 0; i < 24; ++i) {
            const auto n = static_cast<std::uint64_t>(i);
            const auto beat = static_cast<std::uint64_t>(shot.time_s * (4 + 8 * chance(seed, n)));
            const double wide = 20 + 250 * chance(seed, n, beat + 2);
            paint_bar(shot, out, 40, 40 + 20.0 * i, wide, 1 + i % 6, i % 3 == 2 ? -0.02F : 1.0F, false);
        }
        // A graph that is drawn anew for each picture, steps of level lines.
        for (int i = 0; i < 12; ++i) {
            const double y = 300 + 120 * std::sin(0.4 * i + 3 * shot.time_s);
            paint_bar(shot, out, 400 + 24.0 * i, y, 24, 2, 1.0F, false);
        }
    };
}

Act trace(double sweep_hz) {
    return [=](const Shot& shot, Picture& out) {
        constexpr int steps = 180;
        // The spot writes while the shutter is open; the phosphor fades within some hundredths of a second.
        for (int i = 0; i < steps; ++i) {
            const double at = static_cast<double>(i) / steps;
            const double since = wrapped(shot.time_s * sweep_hz - at, 1) / sweep_hz;
            const double glow = std::exp(-since / 0.03);
            if (glow < 0.05) continue;
            const auto y = [&](double a) {
                return 280 + 90 * std::exp(-std::pow((a - 0.5) / 0.02, 2)) + 25 * std::sin(20 * a);
            };
            paint(shot, out,
                  {60 + 600 * at, y(at), 60 + 600 * (at + 1.0 / steps), y(at + 1.0 / steps), 1.2, 1.2, 1.1F,
                   static_cast<float>(glow)});
        }
    };
}

Act train(double px_s) {
    return [=](const Shot& shot, Picture& out) {
        for (int i = 0; i < 9; ++i) {
            const double x = wrapped(110.0 * i + px_s * shot.time_s, 990) - 120;
            paint_bar(shot, out, x, 200, 70, 50, 1.0F);
            paint_bar(shot, out, x + 5, 290, 40, 3, 1.0F);
            paint_bar(shot, out, x + 20, 330, 60, 2, -0.03F);
        }
    };
}

Act lightning(double per_s, std::uint64_t seed) {
    return [=](const Shot& shot, Picture& out) {
        const auto stroke = static_cast<std::uint64_t>(shot.time_s * per_s);
        const double age = shot.time_s - static_cast<double>(stroke) / per_s - 0.1 * chance(seed, stroke);
        if (age < 0 || age > 0.05 * chance(seed, stroke, 1) + shot.period_s) return;
        light(out, 2.2F, 1.09F);
        double x = shot.width * chance(seed, stroke, 2), y = 0;
        for (std::uint64_t i = 0; y < shot.height; ++i) {
            const double nx = x + 80 * (chance(seed, stroke, 3 + i) - 0.5), ny = y + 14 * chance(seed + 1, stroke, i);
            paint(shot, out, {x, y, nx, ny, 1.5, 1.5, 1.09F, 1});
            if (i % 7 == 3)
                paint(shot, out, {x, y, x + 160 * (chance(seed + 2, stroke, i) - 0.5), y + 6, 1, 1, 1.05F, 1});
            x = nx, y = ny;
        }
    };
}

Act grain(double depth, int held, std::uint64_t seed) {
    return [=](const Shot& shot, Picture& out) {
        Random random(testsignal::mixed_seed(seed, static_cast<std::uint64_t>(shot.number / held)));
        const int width = shot.width + 2, height = shot.height + 2;
        std::vector<float> raw(static_cast<std::size_t>(width) * static_cast<std::size_t>(height));
        random.fill_gaussian(raw);
        const auto at = [&](int x, int y) {
            return raw[static_cast<std::size_t>(y) * static_cast<std::size_t>(width) + static_cast<std::size_t>(x)];
        };
        for (int r = 0; r < out.luma.height; ++r) {
            const int y = shot.frame_row(r) + 1;
            for (int x = 1; x <= shot.width; ++x) {
                const float soft = (at(x, y) * 2 + at(x - 1, y) + at(x + 1, y) + at(x, y - 1) + at(x, y + 1)) / 2.83F;
                out.luma.row(r)[x - 1] += static_cast<float>(depth) * soft;
            }
        }
    };
}

Act blind(double period_lines, double drift_lines, bool soft) {
    return [=](const Shot& shot, Picture& out) {
        const double drift = drift_lines * std::sin(1.3 * shot.time_s);
        for (int i = 0; i * period_lines < shot.height - 60; ++i) {
            const double y = 30 + i * period_lines + drift;
            paint_bar(shot, out, 80, y, 560, period_lines / 2, 1.0F, soft);
            paint_bar(shot, out, 80, y + period_lines / 2, 560, period_lines / 2, -0.02F, soft);
        }
    };
}

}  // namespace guardband::bench
