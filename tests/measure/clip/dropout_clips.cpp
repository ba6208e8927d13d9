#include "measure/clip/dropout_clips.h"

namespace guardband::measure::dropout_clips {

Measured measured(const Recipe& recipe, const Processor& processor) {
    support::MadeClip clip(recipe);
    support::MadeContext made;
    made.info.picture = clip.format();
    made.evidence.rate_value = MeasuredRate{recipe.raster.frame_rate.value(), 0.001};
    made.evidence.order_value = recipe.field_order == testsignal::FieldOrder::TopFirst
                                    ? InterlaceEvidence::Order::TopFirst
                                    : InterlaceEvidence::Order::BottomFirst;
    Dropouts measurement(made.context);
    FeatureExtractor extractor(made.info.picture);
    std::int64_t index = 0;
    while (auto planes = clip.next_planes()) {
        if (processor) processor(*planes, index);
        const auto frame = support::make_frame(made.info.picture, *planes, index++);
        measurement.see(frame, extractor.extract(frame));
    }
    Measured out;
    out.truth = clip.truth().dropouts;
    measurement.finish(out.figures, out.events);
    return out;
}

bool meet(const Event& e, const testsignal::Dropout& d) {
    return *e.field == d.field && *e.line == d.line &&
           *e.start_us<d.start_us + d.length_us&& * e.start_us + *e.length_us> d.start_us;
}

Recipe scene(double snr_db, std::uint64_t seed) {
    Recipe r;
    r.duration_s = 0.8;
    r.seed = seed;
    r.bit_depth = seed % 2 == 0 ? 8 : 10;
    r.noise.snr_db = snr_db;
    r.picture.motion_px = 1.3;
    return r;
}

Recipe low_scene(double snr_db, std::uint64_t seed) {
    Recipe r = scene(snr_db, seed);
    r.raster.height = height;
    return r;
}

std::uint16_t& sample(support::Planes& planes, int x, int y) {
    return planes.luma[static_cast<std::size_t>(std::clamp(y, 0, height - 1)) * width +
                       static_cast<std::size_t>(std::clamp(x, 0, width - 1))];
}

}  // namespace guardband::measure::dropout_clips
