#include "identify/alike.h"

#include <algorithm>
#include <cmath>

namespace guardband::identify {
namespace {

constexpr double deviations = 2;

const Belief& belief_of(const ModeModel& model, Group group) { return model.groups[static_cast<std::size_t>(group)]; }

struct Place {
    double centre, variance;
};

/// Where a mode's figure lies in logarithms; tracks per mm need the tape's speed too.
Place place_of(const ModeModel& model, Group group) {
    const auto heaviest = [](const Belief& belief) {
        return *std::ranges::max_element(belief.prior, {}, &Normal::log_weight);
    };
    const Normal own = heaviest(belief_of(model, group));
    if (group != Group::Tracks) return {own.mean, own.variance};
    const Normal speed = heaviest(model.speed);
    return {own.mean - speed.mean, own.variance + speed.variance};
}

bool is_known(const ModeModel& model, Group group) {
    return belief_of(model, group).known && (group != Group::Tracks || model.speed.known);
}

bool differ(const Models& models, const ModeModel& a, const ModeModel& b, Kind kind) {
    const Group group = info_of(kind).group;
    const bool a_absent = belief_of(a, group).absent, b_absent = belief_of(b, group).absent;
    if (a_absent || b_absent) return (a_absent && is_known(b, group)) || (b_absent && is_known(a, group));
    if (!is_known(a, group) || !is_known(b, group)) return false;
    const Place x = place_of(a, group), y = place_of(b, group);
    const double scatter = models.data(kind).scatter;
    return std::abs(x.centre - y.centre) > deviations * std::sqrt(x.variance + y.variance + scatter * scatter);
}

bool share_a_shell(const ModeModel& a, const ModeModel& b) {
    const auto& shells = b.cassettes->shells;
    if (a.cassettes->shells.empty() || shells.empty()) return true;
    return std::ranges::any_of(a.cassettes->shells, [&](const std::string& shell) {
        return std::ranges::find(shells, shell) != shells.end();
    });
}

bool knows_tracks(const ModeModel& model) {
    const auto settled = [&](Group group) { return belief_of(model, group).absent || is_known(model, group); };
    return settled(Group::Tracks) && settled(Group::Pitch);
}

}  // namespace

bool told_apart(const Models& models, std::size_t a, std::size_t b) {
    const ModeModel &x = models.all()[a], &y = models.all()[b];
    if (!share_a_shell(x, y)) return true;
    for (const Kind kind : {Kind::TapeWidth, Kind::TracksPerMm, Kind::TrackPitch, Kind::TrackAngle})
        if (differ(models, x, y, kind)) return true;
    return false;
}

std::vector<std::size_t> alike(const Models& models, std::size_t mode) {
    std::vector<std::size_t> twins;
    if (!knows_tracks(models.all()[mode])) return twins;
    for (std::size_t other = 0; other < models.all().size(); ++other)
        if (other != mode && knows_tracks(models.all()[other]) && !told_apart(models, mode, other))
            twins.push_back(other);
    return twins;
}

std::vector<std::vector<std::size_t>> groups_alike(const Models& models) {
    std::vector<std::vector<std::size_t>> groups;
    for (std::size_t mode = 0; mode < models.all().size(); ++mode) {
        if (!knows_tracks(models.all()[mode])) continue;
        const auto home = std::ranges::find_if(groups, [&](const auto& group) {
            return std::ranges::none_of(group, [&](std::size_t member) { return told_apart(models, mode, member); });
        });
        if (home == groups.end())
            groups.push_back({mode});
        else
            home->push_back(mode);
    }
    std::erase_if(groups, [](const auto& group) { return group.size() < 2; });
    return groups;
}

}  // namespace guardband::identify
