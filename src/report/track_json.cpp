#include "report/track_json.h"

#include "report/closure_report.h"
#include "report/track_report.h"
#include "report/working_report.h"

namespace guardband::report {
namespace {

using calc::CarrierLosses;
using quantity::Figure;

Json carrier_json(const calc::Carrier& carrier) {
    Json json = {{"carrier", carrier.name}, {"key", carrier.key()}, {"frequency_mhz", carrier.frequency_mhz()}};
    add_number(json, "wavelength_um", carrier.wavelength.figure("µm"));
    return json;
}

Json pick_up_json(const calc::PickUp& at) {
    Json json = carrier_json(at.carrier);
    add_number(json, "own_azimuth_loss_db", at.own_loss_db);
    add_number(json, "neighbour_azimuth_loss_db", at.azimuth_loss_db);
    add_number(json, "pick_up_db", at.pick_up_db);
    add_number(json, "same_azimuth_pick_up_db", at.same_azimuth_db);
    return json;
}

Json cross_over_json(const calc::CrossOver& cross) {
    Json json = Json::object();
    add_number(json, "tape_speed_mm_s", cross.tape_speed_mm_s);
    add_number(json, "tracks_per_sweep", cross.tracks_per_sweep);
    add_number(json, "tracks_per_field", cross.tracks_per_field);
    add_number(json, "angle_deg", cross.angle_deg);
    if (!cross.assumption.empty()) json["assumption"] = cross.assumption;
    return json;
}

Json playback_json(const calc::Playback& p) {
    Json json = {{"played_by", nullptr},
                 {"head_width_um", p.head.um.value},
                 {"track_width_um", p.track.um.value},
                 {"pitch_um", p.pitch.um.value}};
    if (p.machine_mode != nullptr) json["played_by"] = address_of(*p.machine_format, *p.machine_mode);
    add_number(json, "own_track_um", p.own_um);
    add_number(json, "own_track_share", p.own_share);
    add_number(json, "head_share", p.head_share);
    add_number(json, "neighbour_um", p.neighbour_um);
    add_number(json, "own_azimuth_deg", p.own_azimuth_deg);
    add_number(json, "neighbour_azimuth_deg", p.other_azimuth_deg);
    json["pick_up"] = Json::array();
    for (const calc::PickUp& at : p.pick_ups) json["pick_up"].push_back(pick_up_json(at));
    if (p.at_tape_speed) json["cross_over_at_tape_speed"] = cross_over_json(*p.at_tape_speed);
    if (p.at_machine_speed) json["cross_over_at_machine_speed"] = cross_over_json(*p.at_machine_speed);
    json["remarks"] = p.remarks;
    return json;
}

Json shuttle_json(const calc::Shuttle& shuttle) {
    Json json = {{"times_play", shuttle.times_play}, {"tracks_per_sweep", shuttle.tracks_per_sweep}};
    add_number(json, "tape_speed_mm_s", shuttle.tape_speed_mm_s);
    add_number(json, "bars_per_field", shuttle.bars_per_field);
    add_number(json, "shift_per_sweep", shuttle.shift_per_sweep);
    add_number(json, "line_rate_ratio", shuttle.line_rate_ratio);
    return json;
}

Json losses_json(const std::vector<CarrierLosses>& losses) {
    Json list = Json::array();
    for (const CarrierLosses& at : losses) {
        Json json = carrier_json(at.carrier);
        if (at.spacing_db) add_number(json, "spacing_db", *at.spacing_db);
        if (at.gap_db) add_number(json, "gap_db", *at.gap_db);
        if (at.thickness_db) add_number(json, "thickness_db", *at.thickness_db);
        if (at.azimuth_db) add_number(json, "azimuth_db", *at.azimuth_db);
        add_number(json, "total_db", at.total_db);
        list.push_back(std::move(json));
    }
    return list;
}

}  // namespace

void add_number(Json& json, const std::string& key, const Figure& figure) {
    if (!figure.is_known()) {
        json[key] = nullptr;
        json[key + "_reason"] = figure.reason();
        return;
    }
    json[key] = to_json(figure.value());
    if (figure.uncertainty()) json[key + "_uncertainty"] = *figure.uncertainty();
}

std::string track_json(const TrackAnswer& answer, const table::Table& table) {
    Json json = {{"address", address_of(*answer.format, *answer.mode)}};
    add_number(json, "pitch_um", answer.tracks.pitch_um);
    add_number(json, "angle_moving_deg", answer.tracks.angle_moving_deg);
    add_number(json, "angle_still_deg", answer.tracks.angle_still_deg);
    add_number(json, "length_mm", answer.tracks.length_mm);
    add_number(json, "height_mm", answer.tracks.height_mm);
    add_number(json, "writing_speed_m_s", answer.tracks.writing_speed_m_s);
    add_number(json, "tip_speed_m_s", answer.tracks.tip_speed_m_s);
    add_number(json, "tracks_per_s", answer.tracks.tracks_per_s);
    add_number(json, "tracks_per_mm", answer.tracks.tracks_per_mm);
    if (!answer.tracks.writing_speed_m_s.note().empty()) json["assumed"] = answer.tracks.writing_speed_m_s.note();
    json["checks"] = Json::array();
    for (const calc::Closure& check : answer.checks) json["checks"].push_back(closure_json(check));
    json["carriers"] = Json::array();
    for (const calc::Carrier& carrier : answer.carriers) json["carriers"].push_back(carrier_json(carrier));
    if (answer.playback) json["playback"] = playback_json(*answer.playback);
    if (answer.shuttle) json["shuttle"] = shuttle_json(*answer.shuttle);
    if (answer.losses) json["losses"] = losses_json(*answer.losses);
    if (!answer.working.empty()) json["working"] = working_json(answer.working);
    json["table_version"] = table.edition.version;
    return to_text(json);
}

}  // namespace guardband::report
