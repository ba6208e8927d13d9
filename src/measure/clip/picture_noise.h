#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "measure/clip/block_noise.h"
#include "measure/clip/block_search.h"
#include "measure/clip/crushing.h"
#include "measure/clip/flat_picture.h"
#include "measure/clip/motion_echo.h"
#include "measure/clip_measurement.h"

namespace guardband::measure {

/// `luma_snr`, `chroma_snr`, and `Crushing`'s figures. dB: 20 log10 of 219 codes over the RMS of the noise, in 8-bit
/// codes, unweighted, over the whole band that was sampled; chroma is the mean power of both colour differences. What
/// rounding to the clip's codes adds is taken off.
///
/// Method: noise is what changes from frame to frame when motion has been taken out. A few small blocks of each frame
/// (`BlockSearch`, `BlockNoiseMeter`) give noise and detail, and `fit_noise` what all have in common. What moves by
/// part of a line is compared with that frame of the last four against which it has moved by nearly whole lines. Blocks
/// that touch the outermost codes in use, where noise is cut, don't count. Bias and scatter below 0.7 dB from 28 to 48
/// dB on textured moving pictures. Needs a dozen frames.
///
/// `mixed_in_time`: see `MotionEcho`.
///
/// Noise that a processor took away is no figure of the tape: where nothing changes beyond the rounding of samples,
/// where what stands still changes more over two frames than over one, in plain places too (each frame then holds part
/// of the one before), or where what moves leaves trails, the figures say so and give no number. FFmpeg's recursive
/// filter is told from where it takes 4 dB away, and its means of two and three frames; of 160 clips without, it is
/// said of three: a whipped pan, a zoom that turns round, footage whose codec had done so. Noise that was smoothed down
/// the picture, as few tapes do, leaves lines that are alike; the note then says how much. Of a lossy codec's clip the
/// figure is the file's: the note says that too. Can't tell: noise that is the same in every frame; noise that was
/// smoothed along the line only, which lowers the upper bands; smearing where nothing stands still nor moves fast, and
/// filters that look for what is like it elsewhere.
class PictureNoise final : public ClipMeasurement {
public:
    explicit PictureNoise(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    /// What one block said.
    struct Sample {
        BlockNoise luma;
        float level = 0;                            ///< 8-bit code
        float by_motion = 0;                        ///< variance that what it seems to have moved by makes
        std::optional<float> over_two;              ///< variance against the frame before the last, if it stands still
        std::optional<float> over_four;             ///< likewise, where it seems that frames hold part of those before
        std::optional<std::array<float, 2>> alike;  ///< see `likeness_of_lines`, if it stands quite still
        std::optional<std::array<BlockNoise, 2>> chroma;  ///< C_B, C_R
    };

    void note_codes(const FrameFeatures& features);
    void thin_out();
    void measure_block(const media::Frame& frame);
    void listen_for_echo(const BlockNoise& found);
    bool is_cut(const media::Plane& plane, const FieldBlock& block) const;
    FieldBlock next_block();
    void look_further_back(const media::Frame& frame, const FieldBlock& block, Sample& sample);
    void compare_with_better(const media::Frame& frame, const FieldBlock& block, BlockNoise& found);
    std::array<BlockNoise, 2> measure_chroma(const media::Frame& frame, const FieldBlock& block, const BlockNoise& luma,
                                             int lines);
    std::optional<double> middle_variance() const;
    bool is_drawn_beside_picture(const FrameFeatures& features);
    std::optional<std::string> smearing(double noise) const;
    std::string smoothing() const;
    quantity::Figure luma_figure() const;
    quantity::Figure chroma_figure() const;
    quantity::Figure mixed_figure() const;

    media::PictureFormat format_;
    bool usable_, is_lossy_;
    LumaSpan span_;                   ///< of the last frame
    int lowest_code_, highest_code_;  ///< in use so far, of the clip's depth
    Crushing crushing_;
    BlockSearch search_;
    BlockNoiseMeter meter_;
    MotionEcho echo_;
    std::array<std::optional<media::Frame>, 4> kept_;  ///< the frame that was n frames ago stands at n - 1
    std::vector<Sample> samples_;
    double still_once_ = 0, still_twice_ = 0;  ///< variances of what stands still, over one frame and two: sums
    std::int64_t frames_ = 0, blocks_ = 0, every_ = 1;  ///< every so many frames is looked at
};

}  // namespace guardband::measure
