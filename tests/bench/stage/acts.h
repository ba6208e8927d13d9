#pragma once

#include <cstdint>

#include "stage/stage.h"

namespace guardband::bench {

/// Things that fall or fly through the picture, seen as streaks for as long as the shutter is open.
struct Fall {
    int count = 300;
    double right_px_s = 0, down_px_s = 3000;  ///< mean velocity
    double scatter = 0.3;                     ///< of the velocity, as a share
    double exposure_s = 0.01;
    double radius_px = 0.8;
    float level = 1.0F;
    double strength = 2;  ///< 1: white and lit like all else; more: it shines
};
Act falling(const Fall& fall, std::uint64_t seed);

/// Bursts of sparks that fly apart, slow down and fall. @param speed_px_s  of the fastest
Act sparks(double per_s, int each, double speed_px_s, double exposure_s, std::uint64_t seed);

/// Bits of paper that fall and turn, and glint when they lie as a mirror would.
Act confetti(int count, double wide_px, double high_px, std::uint64_t seed);

/// Sun on water: flecks, wider than they are high, that live for some hundredths of a second.
Act glitter(int count, double widest_px, double life_s, std::uint64_t seed);

/// Lamps of photographers: each lights all of one picture, and a small star beside it.
Act camera_flashes(double per_s, std::uint64_t seed);

/// The whole light goes on and off. @param lit_share  of the time
Act strobe(double rate_hz, double lit_share);

/// Small patches that stir, light and dark.
Act crowd(int count, std::uint64_t seed);

/// Flags of level stripes that wave.
Act flags(double stripe_lines, double rate_hz);

/// Lines of a pitch that a fast camera sweeps over, players in bands, a ball.
Act pitch(double sweep_px_s, std::uint64_t seed);

/// Signs like letters that roll up or crawl to the left. @param soft  false: sharp as a computer draws them
Act titles(double up_px_s, double left_px_s, bool soft, std::uint64_t seed);

/// Level lines, thin as a computer draws them, that jump, come and go: gauges, a moving graph.
Act gauges(std::uint64_t seed);

/// A bright line that a spot writes across, over and over, as on an oscilloscope.
Act trace(double sweep_hz);

/// Lit windows of a train that passes at night.
Act train(double px_s);

/// Branches of lightning, lit for one picture or two.
Act lightning(double per_s, std::uint64_t seed);

/// Grain of film: soft, new with each film picture. @param held  shots that show the same film picture
Act grain(double depth, int held, std::uint64_t seed);

/// Level slats of a blind, dark and bright, that drift up and down. @param period_lines  of the frame
Act blind(double period_lines, double drift_lines, bool soft);

}  // namespace guardband::bench
