#include "measure/clip/flash_evidence.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

/// The logarithm of the odds that a piece of full height with nothing against it is a loss, and what each piece of
/// evidence takes from it. See the header for how they were got.
struct Weights {
    float at_best;
    float other;        ///< if it stands out from the other field's nearest row by a whole height less
    float own;          ///< the same of the nearest line of its own field
    float time;         ///< the same of the frame before or after
    float ends;         ///< if a whole height stands out beyond an end, or is lacking there
    float unexplained;  ///< for each end with a whole height of it beyond
    float undecided;    ///< the same
    float edge;         ///< if a row beside has a step of a whole height where it ends
    float beside;       ///< if a line beside stands out there by a whole height more than the next one
    float alike;        ///< for each field of three that has its like
    float body;         ///< for each field of two in which lines of its level cover all its length: half
    float on_motion;    ///< for each field of five that has it where one motion takes it
    float uneven;       ///< if it is as uneven as it is high
    float unseen;       ///< for each neighbour that is missing
    float lowness;      ///< what is low is as likely a remnant of something that moved: for each factor of e
};
constexpr Weights by_sample{.at_best = 10,
                            .other = 2,
                            .own = 3.7F,
                            .time = 1.5F,
                            .ends = 1.2F,
                            .unexplained = 3.5F,
                            .undecided = 0.7F,
                            .edge = 1.5F,
                            .beside = 1.4F,
                            .alike = 1,
                            .body = 6,
                            .on_motion = 1.2F,
                            .uneven = 0,
                            .unseen = 1.8F,
                            .lowness = 2.2F};
/// In a lossy file a loss is coded together with what is beside it.
constexpr Weights in_lossy_file{.at_best = 10,
                                .other = 1,
                                .own = 3.2F,
                                .time = 1.5F,
                                .ends = 0.7F,
                                .unexplained = 2.1F,
                                .undecided = 1.1F,
                                .edge = 2.1F,
                                .beside = 0.8F,
                                .alike = 1,
                                .body = 6.6F,
                                .on_motion = 1.3F,
                                .uneven = 17,
                                .unseen = 2.8F,
                                .lowness = 2.5F};
constexpr float full_height_codes = 60;
/// Losses so short were not in the fit; most of what flashes is, the more the shorter. By hand.
constexpr float if_short = 8, per_shortness = 2;
/// Where a codec seems to have gone over small blocks before, a loss is coded apart from the lines beside, but a flash
/// that some blocks keep and others don't is not. By hand, over what passed in such clips.
constexpr float if_in_blocks = 2.5F, per_own_in_blocks = 5;
/// A lamp that lights all of one field may show in it, thin and level as a loss. By hand.
constexpr float if_lamp = 5;
/// Without a carrier a player's output goes to an end of its range; what falls short of that by all of it. By hand.
constexpr float per_short_of_end = 12;
/// What counts less from field to field; from where on a piece speaks for others, and between which it speaks against
/// them: true ones lie there too, in a picture full of what is like them, but fewer; and by how much less than even
/// a piece may be likely at the least. By hand, over scenes with many losses, with a tenth of those, and with none.
constexpr double remembered = 0.98;
constexpr float speaks_for = 1, speaks_against_from = -7, speaks_against_to = -3, least_needed = -3;
/// What shows first in a clip's last frame may be anything that came to stay, however well it looks: believed by so
/// much the less, for each factor of e by which losses are rarer than one in ten fields. By hand; of the 28000 fields
/// of 134 clean clips, each searched as though nothing followed, five show a piece above `speaks_for`.
constexpr float per_rarity = 3;
constexpr double often_in_a_field = 0.1;

const Weights& weights_of(const FlashEvidence& e) { return e.is_lossy ? in_lossy_file : by_sample; }

}  // namespace

float quick_log_odds(const FlashEvidence& e) {
    const Weights& w = weights_of(e);
    const float lowness = std::max(0.0F, std::log(full_height_codes / std::max(e.height, 2.0F)));
    return w.at_best - w.other * e.other - w.own * e.own - w.time * e.time - w.ends * e.ends -
           w.unexplained * e.unexplained - w.undecided * e.undecided - w.edge * e.edges - w.beside * e.beside -
           w.uneven * e.uneven - per_short_of_end * e.short_of_end - w.unseen * e.unseen - w.lowness * lowness -
           (e.is_short ? if_short + per_shortness * e.shortness : 0.0F) - (e.is_lamp ? if_lamp : 0.0F) -
           (e.in_blocks && !e.is_lossy ? if_in_blocks + per_own_in_blocks * e.own : 0.0F);
}

float log_odds(const FlashEvidence& e) {
    const Weights& w = weights_of(e);
    return quick_log_odds(e) - w.alike * e.alike - w.body * e.body - w.on_motion * e.on_motion;
}

void FlashPrior::add(float log_odds) {
    if (log_odds > speaks_for) ++new_hits_;
    if (log_odds > speaks_against_from && log_odds <= speaks_against_to) ++new_misses_;
}

float FlashPrior::close_field() {
    misses_ += new_misses_, hits_ += new_hits_;
    const float needed = std::max(least_needed, static_cast<float>(std::log((misses_ + 1) / (hits_ + 1))));
    misses_ *= remembered, hits_ *= remembered, new_misses_ = 0, new_hits_ = 0;
    return needed;
}

float FlashPrior::needed_in_last_frame() const {
    const double in_a_field = hits_ * (1 - remembered);
    return -per_rarity * static_cast<float>(std::log(std::min(1.0, in_a_field / often_in_a_field)));
}

}  // namespace guardband::measure
