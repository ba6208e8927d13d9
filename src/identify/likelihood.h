#pragma once

#include <array>
#include <span>
#include <vector>

#include "identify/mode_model.h"
#include "identify/observation.h"

namespace guardband::identify {

/// Observations made ready to be held against modes.
class Evidence {
public:
    Evidence(const Models& models, std::span<const Observation> observations);
    /// The same without one of them.
    Evidence without(std::size_t left_out) const;

    const Models& models() const { return *models_; }
    std::size_t size() const { return all_.size(); }
    /// Of one group, in the order in which they are weighed.
    const std::vector<const Observation*>& in(Group group) const { return groups_[static_cast<std::size_t>(group)]; }
    bool is_empty(Group group) const { return in(group).empty(); }

    /// Does a label that was read fit a grade?
    bool fits(const Observation& label, const table::Grade* grade) const;
    /// The share of all labels that what was read could be; 0: it is none that the table knows.
    double label_share(const Observation& label) const;

    /// The place in `Models::shells` of a shell that was seen.
    std::size_t shell_at(const Observation& shell) const;

private:
    struct Label {
        const Observation* seen;
        std::vector<const table::Grade*> grades;  ///< sorted
        double share;
    };
    const Label& read(const Observation& label) const;
    void sort_into_groups();

    const Models* models_;
    std::vector<const Observation*> all_;
    std::array<std::vector<const Observation*>, group_count> groups_;
    std::vector<Label> labels_;
    std::vector<std::pair<const Observation*, std::size_t>> shells_;
};

/// What is believed of one mode's tape after the evidence, apart from how likely the mode is.
struct ModeState {
    double log_likelihood = 0;  ///< of all of the evidence
    Mixture speed;              ///< ln of mm/s
    std::array<Mixture, group_count> groups;
    std::vector<double> cassettes;        ///< ln of each one's probability
    std::vector<Term<3>> cassette_terms;  ///< ln of length, thickness, hub of each, taken together as one normal
};

// Where the logarithms of a cassette stand in `ModeState::cassette_terms`.
inline constexpr std::size_t length_at = 0, thickness_at = 1, hub_at = 2;

/// Weighs the evidence for one mode.
///
/// Method: readings of one quantity share what is believed of it, those that rest on the tape's speed share that too,
/// and those of the cassette share the grade, which is summed over. Each reading is a blunder with the share that its
/// kind has, equally likely anywhere (in the logarithm) that can be read. A reading of something that the mode does not
/// have can only be a blunder. Closed forms throughout, but for the diameter of a pack, which is not quite linear in
/// the logarithms and is taken as straight where the belief stands (exact to a few parts in a thousand where the
/// cassette is known).
/// @returns ln of the density of the readings' logarithms, and of the probability of the words, for each of
/// `Models::all`
std::vector<double> log_likelihoods(const Evidence& evidence);

/// What is believed of a mode before any evidence.
ModeState unweighed(const ModeModel& model);

/// What is believed of one mode after the evidence.
ModeState weighed(const ModeModel& model, const Evidence& evidence);

/// ln of the diameter of a full pack, as a function of the logarithms of length, thickness and hub.
double log_pack_outer(double log_length, double log_thickness, double log_hub);

}  // namespace guardband::identify
