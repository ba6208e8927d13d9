// Clips with noise of a known level, and what `PictureNoise` alone says of them.
#pragma once

#include <functional>
#include <vector>

#include "measure/clip/picture_noise.h"
#include "support/made_clip.h"
#include "support/made_context.h"
#include "testsignal/clip_maker.h"

namespace guardband::measure {

inline media::PictureFormat format_of(const testsignal::Recipe& r) {
    auto format = support::luma_format(r.raster.width, r.raster.height, r.bit_depth);
    format.has_chroma = true, format.chroma_shift_x = 1;
    return format;
}

/// Changes the samples of a frame on the way to the measurement.
using Processor = std::function<void(support::Planes&)>;

inline quantity::Figures measured(const testsignal::Recipe& recipe, const Processor& processor = {}) {
    testsignal::ClipMaker maker(recipe);
    support::MadeContext made;
    made.info.picture = format_of(recipe);
    PictureNoise measurement(made.context);
    FeatureExtractor extractor(made.info.picture);
    testsignal::ClipFrame next;
    while (maker.next(next)) {
        support::Planes planes{next.planes[0].samples, next.planes[1].samples, next.planes[2].samples};
        if (processor) processor(planes);
        const auto frame = support::make_frame(made.info.picture, planes, next.index);
        measurement.see(frame, extractor.extract(frame));
    }
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    measurement.finish(figures, events);
    return figures;
}

struct Motion {
    const char* name;
    double px, direction_deg;
    bool objects;
};

inline constexpr Motion motions[] = {{"across", 1.3, 0, true},
                                     {"textureAcross", 1.15, 0, false},
                                     {"down", 0.7, 90, true},
                                     {"aslant", 2.2, 30, true},
                                     {"none", 0, 0, true}};

inline testsignal::Recipe scene(double snr_db, int bit_depth, const Motion& motion, std::uint64_t seed) {
    testsignal::Recipe r;
    r.duration_s = 0.36;
    r.bit_depth = bit_depth, r.seed = seed;
    r.noise.snr_db = snr_db, r.noise.chroma_snr_db = snr_db - 2;
    r.picture.motion_px = motion.px, r.picture.direction_deg = motion.direction_deg;
    r.picture.objects = motion.objects, r.picture.still = motion.px == 0;
    if (seed % 2 == 0) {
        r.raster.height = 486, r.raster.frame_rate = {30000, 1001};
        r.field_order = testsignal::FieldOrder::BottomFirst;
    }
    return r;
}

}  // namespace guardband::measure
