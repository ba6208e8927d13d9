#include "measure/clip/flash_evidence.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

// The logarithm of the odds that a piece of full height with nothing against it is a loss, and what each piece of
// evidence takes from it. See the header for how they were got.
constexpr float at_best = 13.2F;
constexpr float per_other = 4;    ///< if it stands out from the other field's nearest row by a whole height less
constexpr float per_own = 0.5F;   ///< the same of the nearest line of its own field
constexpr float per_time = 2;     ///< the same of the frame before or after
constexpr float per_ends = 1.4F;  ///< if a whole height stands out beyond an end, or is lacking there
constexpr float per_unexplained = 2.9F, per_undecided = 1;  ///< for each end with a whole height of it beyond
constexpr float per_edge = 2.1F;    ///< if a row beside has a step of a whole height where it ends
constexpr float per_beside = 2.1F;  ///< if a line beside stands out there by a whole height more than the next one
constexpr float per_alike = 1.3F;   ///< for each field of three that has its like
constexpr float per_body = 6.9F;    ///< for each field of two in which lines of its level cover all its length: half
constexpr float per_on_motion = 2;  ///< for each field of five that has it where one motion takes it
constexpr float per_unseen = 1.9F;  ///< for each neighbour that is missing
/// What is lower than this is as likely a remnant of something that moved: for each factor of e.
constexpr float per_lowness = 3.9F, full_height_codes = 60;
/// Losses so short were not in the fit; most of what flashes is, the more the shorter. By hand.
constexpr float if_short = 10, per_shortness = 2;
/// Where a codec went over small blocks, a loss is coded apart from the lines beside, but a flash that some blocks keep
/// and others don't is not. By hand, over what passed in such clips.
constexpr float if_in_blocks = 2.5F, per_own_in_blocks = 5;
/// A lamp that lights all of one field may show in it, thin and level as a loss. By hand.
constexpr float if_lamp = 8;
/// What counts less from field to field, and how much likelier than even a piece is that speaks for others.
constexpr double remembered = 0.98;
constexpr float sure_log_odds = 2;
/// What shows first in a clip's last frame may be anything that came to stay, however well it looks: believed by so
/// much the less, for each factor of e by which losses are rarer than one a field. By hand.
constexpr float per_rarity = 3;

}  // namespace

float quick_log_odds(const FlashEvidence& e) {
    const float lowness = std::max(0.0F, std::log(full_height_codes / std::max(e.height, 2.0F)));
    return at_best - per_other * e.other - per_own * e.own - per_time * e.time - per_ends * e.ends -
           per_unexplained * e.unexplained - per_undecided * e.undecided - per_edge * e.edges - per_beside * e.beside -
           per_unseen * e.unseen - per_lowness * lowness -
           (e.is_short ? if_short + per_shortness * e.shortness : 0.0F) - (e.is_lamp ? if_lamp : 0.0F) -
           (e.in_blocks ? if_in_blocks + per_own_in_blocks * e.own : 0.0F);
}

float log_odds(const FlashEvidence& e) {
    return quick_log_odds(e) - per_alike * e.alike - per_body * e.body - per_on_motion * e.on_motion;
}

void FlashPrior::add(float log_odds) {
    if (log_odds > sure_log_odds) ++new_hits_;
    if (log_odds <= 0 && log_odds > least_log_odds) ++new_misses_;
}

float FlashPrior::close_field() {
    misses_ += new_misses_, hits_ += new_hits_;
    const auto needed = static_cast<float>(std::max(0.0, std::log((misses_ + 1) / (hits_ + 1))));
    misses_ *= remembered, hits_ *= remembered, new_misses_ = 0, new_hits_ = 0;
    return needed;
}

float FlashPrior::needed_in_last_frame() const {
    const double in_a_field = (hits_ + 1) * (1 - remembered);
    return -per_rarity * static_cast<float>(std::log(std::min(1.0, in_a_field)));
}

}  // namespace guardband::measure
