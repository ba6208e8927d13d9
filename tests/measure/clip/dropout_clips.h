#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "measure/clip/dropouts.h"
#include "support/made_clip.h"
#include "support/made_context.h"
#include "testsignal/gaussian_noise.h"

namespace guardband::measure::dropout_clips {

using Event = quantity::Event;
using Recipe = testsignal::Recipe;
using Change = std::function<void(Recipe&)>;

/// Changes the samples of a frame, of so many samples by lines, on the way to the measurement.
using Processor = std::function<void(support::Planes&, std::int64_t frame)>;

/// What the measurement says of a clip, and what is true.
struct Measured {
    quantity::Figures figures;
    std::vector<Event> events;
    std::vector<testsignal::Dropout> truth;
};

Measured measured(const Recipe& recipe, const Processor& processor = {});

/// Whether an event tells of that dropout.
bool meet(const Event& e, const testsignal::Dropout& d);

/// A picture that moves, with noise; of 8 bit if the seed is even, else of 10.
Recipe scene(double snr_db, std::uint64_t seed);

/// The same, low, so that minutes of it cost little.
constexpr int width = 720, height = 96;
Recipe low_scene(double snr_db, std::uint64_t seed);

/// A sample of the low picture, the nearest one to what lies outside.
std::uint16_t& sample(support::Planes& planes, int x, int y);

}  // namespace guardband::measure::dropout_clips
