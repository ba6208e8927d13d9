#include "stage/backgrounds.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <stdexcept>

namespace guardband::bench {
namespace {

using testsignal::FloatPlane;
using testsignal::Picture;

struct ClosePipe {
    void operator()(FILE* pipe) const { pclose(pipe); }
};
using Pipe = std::unique_ptr<FILE, ClosePipe>;

Pipe open_pipe(const std::string& command) {
    Pipe pipe(popen(command.c_str(), "r"));
    if (!pipe) throw std::runtime_error("no shell");
    return pipe;
}

bool read_plane(FILE* pipe, int width, int height, float zero, float range, FloatPlane& out) {
    std::vector<unsigned char> row(static_cast<std::size_t>(width));
    out.resize(width, height);
    for (int y = 0; y < height; ++y) {
        if (std::fread(row.data(), 1, row.size(), pipe) != row.size()) return false;
        for (int x = 0; x < width; ++x)
            out.row(y)[x] = (static_cast<float>(row[static_cast<std::size_t>(x)]) - zero) / range;
    }
    return true;
}

/// Bilinear, mirrored at the edges so that a camera may go on for ever.
float sample(const FloatPlane& plane, double x, double y) {
    const auto fold = [](double at, int size) {
        const double period = 2.0 * (size - 1);
        at = std::fmod(at, period);
        if (at < 0) at += period;
        return at > size - 1 ? period - at : at;
    };
    x = fold(x, plane.width), y = fold(y, plane.height);
    const int left = std::min(static_cast<int>(x), plane.width - 2),
              top = std::min(static_cast<int>(y), plane.height - 2);
    const auto fx = static_cast<float>(x - left), fy = static_cast<float>(y - top);
    const float *a = plane.row(top) + left, *b = plane.row(top + 1) + left;
    return (1 - fy) * (a[0] + fx * (a[1] - a[0])) + fy * (b[0] + fx * (b[1] - b[0]));
}

}  // namespace

std::shared_ptr<const Still> still_from(const std::string& input, int width) {
    const int height = width * 3 / 4;
    const Pipe pipe = open_pipe(
        fmt::format("ffmpeg -v error {} -frames:v 1 -vf 'scale={}:{}:flags=lanczos:force_original_aspect_ratio="
                    "increase:out_range=tv,crop={}:{}' -pix_fmt yuv444p -f rawvideo - </dev/null",
                    input, width, height, width, height));
    auto still = std::make_shared<Still>();
    if (!read_plane(pipe.get(), width, height, 16, 219, still->luma) ||
        !read_plane(pipe.get(), width, height, 128, 224, still->cb) ||
        !read_plane(pipe.get(), width, height, 128, 224, still->cr))
        throw std::runtime_error("no picture in " + input);
    return still;
}

std::vector<std::shared_ptr<const Still>> stills_of(const std::string& folder) {
    std::vector<std::string> files;
    if (!folder.empty())
        for (const auto& entry : std::filesystem::recursive_directory_iterator(folder)) {
            std::string kind = entry.path().extension().string();
            std::ranges::transform(kind, kind.begin(), [](unsigned char c) { return std::tolower(c); });
            if ((kind == ".jpg" || kind == ".png") && entry.is_regular_file() && entry.file_size() > 50'000)
                files.push_back(entry.path().string());
        }
    std::ranges::sort(files);
    std::vector<std::shared_ptr<const Still>> stills;
    constexpr int width = 1280;
    for (const std::string& file : files) try {
            stills.push_back(still_from("-i '" + file + "'", width));
        } catch (const std::runtime_error&) {
            fmt::print(stderr, "left out: {}\n", file);
        }
    if (stills.empty())
        for (const char* at :
             {"start_x=-0.745:start_y=0.11:start_scale=0.02", "start_x=-0.16:start_y=1.03:start_scale=0.05",
              "start_x=-1.25:start_y=0.03:start_scale=0.1"})
            stills.push_back(still_from(fmt::format("-f lavfi -i mandelbrot=s=1280x960:{}", at), width));
    return stills;
}

Act look_at(std::vector<std::shared_ptr<const Still>> stills, const Move& move) {
    return [stills = std::move(stills), move](const Shot& shot, Picture& out) {
        const auto scene = static_cast<std::size_t>(shot.time_s / move.cut_s);
        const Still& still = *stills[scene % stills.size()];
        const double t = shot.time_s - static_cast<double>(scene) * move.cut_s;
        const double scale = 1 / (move.zoom * std::pow(move.zoom_per_s, t)), angle = move.turn_per_s * t;
        const double shake = move.shake_px * std::sin(6.2832 * move.shake_hz * t);
        const double cx = still.luma.width / 2.0 + move.right_px_s * t + shake,
                     cy = still.luma.height / 2.0 + move.down_px_s * t +
                          0.6 * move.shake_px * std::sin(8.1 * move.shake_hz * t + 1);
        const double c = std::cos(angle) * scale, s = std::sin(angle) * scale, half = shot.aperture_lines() / 4;
        for (int r = 0; r < out.luma.height; ++r) {
            const double y = shot.frame_row(r) - shot.height / 2.0;
            for (int x = 0; x < shot.width; ++x) {
                const double dx = x - shot.width / 2.0, sx = cx + c * dx - s * y, sy = cy + s * dx + c * y;
                out.luma.row(r)[x] = (sample(still.luma, sx + s * half, sy - c * half) +
                                      sample(still.luma, sx - s * half, sy + c * half)) /
                                     2;
                if (x % 2 == 0)
                    out.cb.row(r)[x / 2] = sample(still.cb, sx, sy), out.cr.row(r)[x / 2] = sample(still.cr, sx, sy);
            }
        }
    };
}

Act piped(const std::string& arguments, int width, int height, int held) {
    struct State {
        Pipe pipe;
        Picture frame;
    };
    auto state = std::make_shared<State>();
    const std::string command = fmt::format("ffmpeg -v error {} -pix_fmt yuv422p -f rawvideo - </dev/null", arguments);
    return [=](const Shot& shot, Picture& out) {
        if (!state->pipe) state->pipe = open_pipe(command);
        if (shot.number % held == 0 && (!read_plane(state->pipe.get(), width, height, 16, 219, state->frame.luma) ||
                                        !read_plane(state->pipe.get(), width / 2, height, 128, 224, state->frame.cb) ||
                                        !read_plane(state->pipe.get(), width / 2, height, 128, 224, state->frame.cr)))
            throw std::runtime_error("FFmpeg gave too few pictures: " + command);
        const auto take = [&](const FloatPlane& from, FloatPlane& to) {
            for (int r = 0; r < to.height; ++r) {
                const int y = shot.frame_row(r);
                const float *a = from.row(std::max(0, y - 1)), *b = from.row(y),
                            *c = from.row(std::min(from.height - 1, y + 1));
                for (int x = 0; x < to.width; ++x)
                    to.row(r)[x] = shot.step() == 2 && held == 1 ? (a[x] + 2 * b[x] + c[x]) / 4 : b[x];
            }
        };
        take(state->frame.luma, out.luma), take(state->frame.cb, out.cb), take(state->frame.cr, out.cr);
    };
}

Act plain(float luma) {
    return [luma](const Shot&, Picture& out) {
        std::ranges::fill(out.luma.samples, luma);
        std::ranges::fill(out.cb.samples, 0.0F), std::ranges::fill(out.cr.samples, 0.0F);
    };
}

}  // namespace guardband::bench
