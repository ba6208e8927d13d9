#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "measure/clip/repeated_fields.h"
#include "media/clip.h"
#include "support/made_clip.h"
#include "support/made_context.h"

namespace guardband::measure {

/// What is found in a clip.
struct FoundRepeats {
    quantity::Figure figure = quantity::Figure::unknown("");
    std::vector<quantity::Event> events;

    std::int64_t count() const { return figure.is_known() ? std::get<std::int64_t>(figure.value()) : -1; }
    /// Fields that the events name; right where each event is one field or a run without holes.
    std::vector<std::int64_t> fields() const {
        std::vector<std::int64_t> all;
        for (const auto& event : events)
            for (std::int64_t i = 0; i < *event.count; ++i) all.push_back(*event.field + i);
        return all;
    }
};

/// Shows `RepeatedFields` a clip.
class Measuring {
public:
    explicit Measuring(const media::PictureFormat& format, bool is_lossy = false)
        : extractor_(format), repeated_(context_of(made_, is_lossy)) {}

    void see(const media::Frame& frame) { repeated_.see(frame, extractor_.extract(frame)); }
    FoundRepeats found(InterlaceEvidence::Order order = InterlaceEvidence::Order::TopFirst) {
        made_.evidence.order_value = order;
        quantity::Figures figures;
        FoundRepeats result;
        repeated_.finish(figures, result.events);
        result.figure = *figures.find("repeated_fields");
        return result;
    }

private:
    static const ClipContext& context_of(support::MadeContext& made, bool is_lossy) {
        made.info.is_lossy = is_lossy;
        return made.context;
    }

    support::MadeContext made_;
    FeatureExtractor extractor_;
    RepeatedFields repeated_;
};

/// Changes a frame of a made clip. @param index  of the frame
using Edit = std::function<void(support::Planes& planes, int index)>;

inline FoundRepeats measure(const testsignal::Recipe& recipe, const Edit& edit = {}) {
    support::MadeClip clip(recipe);
    Measuring measuring(clip.format());
    int index = 0;
    while (auto planes = clip.next_planes()) {
        if (edit) edit(*planes, index);
        measuring.see(support::make_frame(clip.format(), *planes, index++));
    }
    return measuring.found(recipe.field_order == testsignal::FieldOrder::TopFirst
                               ? InterlaceEvidence::Order::TopFirst
                               : InterlaceEvidence::Order::BottomFirst);
}

inline testsignal::Recipe panned(double motion_px, std::optional<double> snr_db, double duration_s = 1.2) {
    testsignal::Recipe recipe;
    recipe.duration_s = duration_s;
    recipe.picture.motion_px = motion_px;
    recipe.noise.snr_db = snr_db;
    return recipe;
}

inline testsignal::Recipe still(std::optional<double> snr_db, double duration_s = 1.2) {
    testsignal::Recipe recipe = panned(0, snr_db, duration_s);
    recipe.picture.still = true;
    return recipe;
}

}  // namespace guardband::measure
