#include "identify/kinds.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "quantity/errors.h"
#include "table/suggestion.h"

namespace guardband::identify {
namespace {

using enum KindInfo::Value;
using Context = KindInfo::Context;

constexpr KindInfo kinds[] = {
    {Kind::TapeWidth, "tape_width", "mm", Number, Context::None, Group::Width},
    {Kind::Shell, "shell", "", Word, Context::None, Group::Cassette},
    {Kind::Label, "label", "", Word, Context::None, Group::Cassette},
    {Kind::PackOuter, "pack_outer", "mm", Number, Context::None, Group::Cassette},
    {Kind::PackHub, "pack_hub", "mm", Number, Context::None, Group::Cassette},
    {Kind::TracksPerMm, "tracks_per_mm", "", Number, Context::None, Group::Tracks},
    {Kind::TrackPitch, "track_pitch", "µm", Number, Context::None, Group::Pitch},
    {Kind::TrackAngle, "track_angle", "deg", Number, Context::None, Group::Angle},
    {Kind::ControlTrackRate, "control_track_rate", "Hz", Number, Context::Speed, Group::Control},
    {Kind::ReelPeriod, "reel_period", "s", Number, Context::DiameterNeeded, Group::Speed},
    {Kind::FieldRate, "field_rate", "Hz", Number, Context::None, Group::Drum},
    {Kind::LineRate, "line_rate", "Hz", Number, Context::None, Group::Drum},
    {Kind::Colour, "colour", "", Word, Context::None, Group::Colour},
    {Kind::SoundSpeedRatio, "sound_speed_ratio", "", Number, Context::SpeedNeeded, Group::Speed},
    {Kind::LumaBandwidth, "luma_bandwidth", "MHz", Number, Context::None, Group::Luma},
    {Kind::SoundBandwidth, "sound_bandwidth", "kHz", Number, Context::None, Group::Sound},
    {Kind::ProgrammeTime, "programme_time", "s", Time, Context::None, Group::Cassette},
};

}  // namespace

std::span<const KindInfo> all_kinds() { return kinds; }

const KindInfo& info_of(Kind kind) { return all_kinds()[static_cast<std::size_t>(kind)]; }

std::string_view id_of(Kind kind) { return info_of(kind).id; }

Kind kind_named(std::string_view id, const std::string& input) {
    std::vector<std::string> ids;
    for (const KindInfo& info : kinds) {
        if (info.id == id) return info.kind;
        ids.emplace_back(info.id);
    }
    throw quantity::InputError(input, "no kind of evidence \"" + std::string(id) + "\"",
                               table::did_you_mean(id, ids, "`guardband identify --kinds` explains them"));
}

KindData data_of(const table::Table& table, Kind kind) {
    const auto found = std::ranges::find(table.evidence, id_of(kind), &table::EvidenceKind::id);
    if (found == table.evidence.end())
        throw quantity::DomainError("the table does not describe the evidence " + std::string(id_of(kind)));
    KindData data;
    data.entry = &*found;
    data.blunders = found->facts.known("blunders")->in("share");
    const table::Fact* scatter = found->facts.known("scatter");
    if (scatter == nullptr) return data;
    data.scatter = scatter->in("share");
    data.lowest = *found->facts.known("lowest")->value;
    data.highest = *found->facts.known("highest")->value;
    data.log_blunder_density = -std::log(std::log(data.highest / data.lowest));
    return data;
}

}  // namespace guardband::identify
