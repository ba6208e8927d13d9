#include "report/figure_groups.h"

#include <algorithm>
#include <array>

namespace guardband::report {
namespace {

using table::KeyRule;
using table::SectionKind;
using enum table::SectionKind;

struct Claim {
    std::string_view title;
    SectionKind section;
    std::vector<std::string_view> keys;  ///< none: all of the section that no other claim names
};

/// Who shows what, in the order of the page. A title may come again: its claims make one group.
const std::vector<Claim>& format_claims() {
    static const std::vector<Claim> claims{
        {"Format", Format, {}},
        {"Tape", Tape, {}},
        {"Drum and heads", Drum, {}},
        {"Drum and heads", System, {"drum_speed", "head_switch_before_sync"}},
        {"Tracks", Mode, {"tape_speed", "track_pitch", "track_width", "colour_track_width", "guard_band"}},
        {"Tracks", System, {"track_angle_still", "track_angle_moving", "tracks_per_field", "tracks_per_second"}},
        {"Tracks", Mode, {"writing_speed"}},
        {"Tracks", System, {"shortest_wavelength", "pilot_frequencies"}},
        {"Picture carriers",
         System,
         {"luma_carrier_sync", "luma_carrier_blanking", "luma_carrier_white", "colour_process", "colour_under_carrier",
          "data_rate", "compression"}},
        {"Sound, control and cue tracks",
         System,
         {"linear_sound_track_width", "linear_sound_tracks", "sound_track_edge", "hifi_carrier_left",
          "hifi_carrier_right", "hifi_azimuth", "control_track_width", "control_track_edge", "control_track_rate",
          "cue_track_width", "cue_track_edge"}},
        {"Performance when new",
         System,
         {"luma_bandwidth", "luma_resolution", "luma_snr", "chroma_bandwidth", "sound_bandwidth", "sound_snr",
          "hifi_sound_snr", "wow_flutter"}},
    };
    return claims;
}

const std::vector<Claim>& system_claims() {
    static const std::vector<Claim> claims{
        {"Subcarrier and burst",
         Colour,
         {"subcarrier", "subcarrier_red", "subcarrier_blue", "deviation_red", "deviation_blue", "colour_identification",
          "recorded_as", "colour_fields", "burst_start", "burst_cycles", "burst_amplitude", "burst_phase",
          "chroma_bandwidth"}},
        {"Levels and display", Colour, {}},
        {"Composite samples at four times the subcarrier",
         Colour,
         {"composite_sampling_rate", "composite_samples_per_line", "composite_active_samples", "composite_sync_code",
          "composite_blanking_code", "composite_white_code"}},
        {"Transmission", Transmission, {}},
        {"Rates", Scanning, {"lines", "field_rate", "line_rate", "active_lines", "picture_aspect"}},
        {"Field interval",
         Scanning,
         {"field_blanking", "equalising_pulses", "equalising_width", "broad_pulses", "broad_width"}},
        {"Line interval", Scanning, {}},
    };
    return claims;
}

bool is_claimed(const std::vector<FigureGroup>& groups, const KeyRule& rule) {
    return std::ranges::any_of(
        groups, [&](const FigureGroup& group) { return std::ranges::find(group.rules, &rule) != group.rules.end(); });
}

FigureGroup& group_of(std::vector<FigureGroup>& groups, std::string_view title) {
    const auto found = std::ranges::find(groups, title, &FigureGroup::title);
    return found == groups.end() ? groups.emplace_back(FigureGroup{title, {}}) : *found;
}

bool is_named(const std::vector<Claim>& claims, const KeyRule& rule) {
    return std::ranges::any_of(claims, [&](const Claim& claim) {
        return claim.section == rule.section && std::ranges::find(claim.keys, rule.key) != claim.keys.end();
    });
}

/// What each claim names, a claim of a whole section what no other names, and last what nobody claims.
std::vector<FigureGroup> grouped(const std::vector<Claim>& claims, std::initializer_list<SectionKind> sections) {
    std::vector<FigureGroup> groups;
    const auto add_rest = [&](SectionKind section, std::string_view title) {
        for (const KeyRule& rule : table::key_rules())
            if (rule.section == section && !is_named(claims, rule) && !is_claimed(groups, rule))
                group_of(groups, title).rules.push_back(&rule);
    };
    for (const Claim& claim : claims) {
        for (const std::string_view key : claim.keys)
            if (const KeyRule* rule = table::find_rule(claim.section, key))
                group_of(groups, claim.title).rules.push_back(rule);
        if (claim.keys.empty()) add_rest(claim.section, claim.title);
    }
    for (const SectionKind section : sections) add_rest(section, "Further figures");
    return groups;
}

}  // namespace

const std::vector<FigureGroup>& format_groups() {
    static const std::vector<FigureGroup> groups = grouped(format_claims(), {Format, Tape, Drum, System, Mode});
    return groups;
}

const std::vector<FigureGroup>& system_groups() {
    static const std::vector<FigureGroup> groups = grouped(system_claims(), {Scanning, Colour, Transmission});
    return groups;
}

}  // namespace guardband::report
