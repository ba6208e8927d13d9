#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "media/clip.h"
#include "support/clip_frames.h"
#include "testsignal/gaussian_noise.h"
#include "testsignal/picture.h"

namespace guardband::bench {

/// One picture that a camera takes: a field, or a progressive frame.
struct Shot {
    int width = 720, height = 576;  ///< of the frame
    testsignal::Rows rows = testsignal::Rows::All;
    std::int64_t number = 0;  ///< in the order of time
    double time_s = 0, period_s = 0.02;

    int step() const { return rows == testsignal::Rows::All ? 1 : 2; }
    int first() const { return rows == testsignal::Rows::Bottom ? 1 : 0; }
    /// The frame's row that the picture's row `r` is.
    int frame_row(int r) const { return first() + step() * r; }
    /// Frame lines that the camera's aperture takes in.
    double aperture_lines() const { return step(); }
};

/// Paints into a picture: a background, or something before it. Luma 0 black to 1 white.
using Act = std::function<void(const Shot&, testsignal::Picture&)>;

/// How the scene is taken and stored.
struct StageSettings {
    int width = 720, height = 576;
    quantity::Rational frame_rate{25, 1};
    bool progressive = false, bottom_first = false;
    int bit_depth = 10;
    std::optional<double> snr_db = 42;  ///< white noise; none if absent
    double duration_s = 30;
    std::uint64_t seed = 1;
};

enum class LostAs { Bright, Dark, Held, Grey, Noise };

/// A piece of a line that was lost.
struct Lost {
    LostAs as = LostAs::Bright;
    std::int64_t field = 0;
    int line = 0;
    double start_us = 0, length_us = 0;
    double change = 1;  ///< mean of what it changes in the samples, share of the range from black to white
};

/// Which losses a clip is to have.
struct LossSettings {
    std::vector<LostAs> kinds;
    std::vector<double> lengths_us;
    double per_field = 3;
    int most_lines = 1;
};

/// A clip that is played before a camera, in memory.
class StageReader final : public media::ClipReader {
public:
    StageReader(const StageSettings& settings, std::vector<Act> acts, std::optional<LossSettings> losses = {});

    const media::ClipInfo& info() const override { return info_; }
    std::optional<media::Frame> next() override;
    std::string trouble() const override { return {}; }
    std::uint64_t bytes_read() const override { return 0; }

    std::int64_t frame_count() const { return frame_count_; }
    const std::vector<Lost>& lost() const { return lost_; }

private:
    void shoot(std::int64_t number, testsignal::Rows rows);
    std::vector<Lost> lose(std::int64_t number);
    void spoil(Lost& lost);
    void store(std::int64_t number, testsignal::Rows rows, std::vector<Lost> lost);
    void hold(const Lost& lost, testsignal::Rows rows);

    StageSettings settings_;
    std::vector<Act> acts_;
    std::optional<LossSettings> losses_;
    media::ClipInfo info_;
    testsignal::Picture picture_;
    support::Planes planes_;
    std::vector<float> noise_;
    std::vector<Lost> lost_;
    std::int64_t frame_count_ = 0, next_ = 0;
};

/// Plays a clip through a codec: FFmpeg writes it to a file. @param arguments  of the encoder, and the file
void encode(StageReader& clip, const std::string& arguments);

}  // namespace guardband::bench
