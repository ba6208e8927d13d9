#include "identify/made_tape.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <set>

namespace guardband::support {
namespace {

using identify::Kind;
using identify::Observation;
using table::Fact;
using table::Mode;
using table::TapeFormat;

const std::map<std::string, std::string>& units() {
    static const std::map<std::string, std::string> all{
        {"tape_speed", "mm/s"},        {"width", "mm"},           {"control_track_rate", "Hz"}, {"track_pitch", "µm"},
        {"track_angle_moving", "deg"}, {"luma_bandwidth", "MHz"}, {"sound_bandwidth", "kHz"},   {"tracks", "Hz"}};
    return all;
}

const Fact* raw_fact(const TapeFormat& format, const Mode& mode, const std::string& key) {
    if (key == "width") return format.tape.find("width");
    if (const Fact* own = mode.facts.find(key)) return own;
    if (const table::FormatSystem* system = format.find_system(mode.system))
        if (const Fact* shared = system->facts.find(key)) return shared;
    return format.drum.find(key);
}

bool heads_stand_still(const TapeFormat& format) {
    const Fact* recording = format.facts.known("recording");
    return recording != nullptr && recording->printed == "fixed head";
}

bool has_none(const TapeFormat& format, const Mode& mode, const std::string& key) {
    const bool of_tracks = key == "tracks" || key == "track_pitch" || key == "track_angle_moving";
    if (of_tracks && heads_stand_still(format)) return true;
    const Fact* fact = raw_fact(format, mode, key);
    return fact != nullptr && fact->unknown.starts_with("no control track");
}

double number(const Fact* fact, const std::string& unit) {
    return fact != nullptr && fact->is_number() ? fact->in(unit) : 0;
}

/// Tracks a second: as given, by the field, or by the drum.
double tracks_per_s(const table::Table& table, const TapeFormat& format, const Mode& mode) {
    if (const double rate = number(raw_fact(format, mode, "tracks_per_second"), "Hz"); rate > 0) return rate;
    const double field_rate = table.find_scanning(mode.system)->field_rate().value();
    if (const double each = number(raw_fact(format, mode, "tracks_per_field"), ""); each > 0) return each * field_rate;
    return number(raw_fact(format, mode, "drum_speed"), "rev/s") * number(raw_fact(format, mode, "heads"), "");
}

/// What figures of each standing are off by, beyond their tolerance.
double off_by(table::Standing standing) {
    switch (standing) {
        case table::Standing::Standard:
            return 0.0005;
        case table::Standing::FromMemory:
            return 0.01;
        default:
            return 0.003;
    }
}

std::string plain(std::string text) {
    std::erase_if(text, [](unsigned char c) { return std::isalnum(c) == 0; });
    return text;
}

}  // namespace

TapeMaker::TapeMaker(const table::Table& table, unsigned seed) : table_(table), random_(seed) {
    std::set<std::string> labels, shells;
    for (const TapeFormat& format : table.formats) {
        for (const table::Shell& shell : format.shells) shells.insert(shell.id);
        for (const table::Grade& grade : format.grades) {
            labels.insert(grade.id);
            if (const double length = number(grade.facts.known("length"), "m"); length > 0) lengths_.push_back(length);
            if (const double t = number(grade.facts.known("thickness"), "µm"); t > 0) thicknesses_.push_back(t);
            if (const double hub = number(grade.facts.known("hub_diameter"), "mm"); hub > 0) hubs_.push_back(hub);
        }
        std::set<std::pair<std::string, std::string>> seen;
        for (const Mode& mode : format.modes) {
            if (number(raw_fact(format, mode, "tape_speed"), "mm/s") > 0) with_speed_.emplace_back(&format, &mode);
            for (const auto& [key, unit] : units()) {
                const double value =
                    key == "tracks" ? tracks_per_s(table, format, mode) : number(raw_fact(format, mode, key), unit);
                if (value > 0 && (key == "tape_speed" || seen.insert({key, mode.system}).second))
                    known_[key].push_back(value);
            }
        }
    }
    labels_.assign(labels.begin(), labels.end());
    shells_.assign(shells.begin(), shells.end());
}

double TapeMaker::after_others(const std::string& key) {
    const std::vector<double>& others = known_.at(key);
    return others[below(others.size())] * std::exp(normal() * (happens(0.5) ? 0.05 : 0.8));
}

double TapeMaker::met(const Fact& fact, const std::string& key) {
    const std::string& unit = units().at(key);
    const double low = fact.lowest_in(unit), high = fact.highest_in(unit);
    if (fact.exact && !fact.low) return fact.in(unit)*std::exp(2e-4 * normal());
    const double within = low + (high - low) * std::uniform_real_distribution<double>()(random_);
    return within * std::exp(off_by(fact.standing) * normal());
}

std::optional<double> TapeMaker::quantity(const TapeFormat& format, const Mode& mode, const std::string& key) {
    if (has_none(format, mode, key)) return std::nullopt;
    if (key == "tracks") {
        const double rate = tracks_per_s(table_, format, mode);
        return rate > 0 ? rate : after_others(key);
    }
    const Fact* fact = raw_fact(format, mode, key);
    return fact != nullptr && fact->is_number() && *fact->value > 0 ? met(*fact, key) : after_others(key);
}

TapeMaker::Tape TapeMaker::tape() {
    std::vector<const TapeFormat*> formats;
    for (const TapeFormat& format : table_.formats)
        if (!format.modes.empty()) formats.push_back(&format);
    const TapeFormat& format = *formats[below(formats.size())];
    return tape_of(format, format.modes[below(format.modes.size())]);
}

TapeMaker::Tape TapeMaker::tape_of(const TapeFormat& format, const Mode& mode) {
    Tape tape;
    tape.format = &format, tape.mode = &mode, tape.address = address_of(format, mode);
    for (const auto& [key, unit] : units()) tape.quantities[key] = quantity(format, mode, key);
    // Pitch and angle that nobody printed follow from what the table does give.
    const auto& angle = tape.quantities["track_angle_moving"];
    const bool pitch_given = number(raw_fact(format, mode, "track_pitch"), "µm") > 0;
    const bool rest_given = number(raw_fact(format, mode, "track_angle_moving"), "deg") > 0 &&
                            tracks_per_s(table_, format, mode) > 0 &&
                            number(raw_fact(format, mode, "tape_speed"), "mm/s") > 0;
    if (!pitch_given && rest_given && angle)
        tape.quantities["track_pitch"] = 1000 * *tape.quantities["tape_speed"] / *tape.quantities["tracks"] *
                                         std::sin(*angle * std::numbers::pi / 180);
    choose_cassette(tape);
    choose_colour(tape);
    const double own = table_.find_scanning(mode.system)->field_rate().value();
    if (happens(0.08)) tape.drum = table_.scannings[below(table_.scannings.size())].field_rate().value() / own;
    tape.drum *= std::exp(4e-4 * normal());
    return tape;
}

void TapeMaker::choose_cassette(Tape& tape) {
    std::vector<table::GradeOfFormat> grades = table_.grades_in(*tape.format);
    std::erase_if(grades, [&](const table::GradeOfFormat& grade) {
        const std::string& counts = grade.grade->label_system;
        return !counts.empty() && counts != tape.mode->system && !happens(0.1);
    });
    const auto some = [&](const std::vector<double>& all) { return all[below(all.size())]; };
    tape.length_m = some(lengths_) * std::exp(0.5 * normal());
    tape.hub_mm = some(hubs_) * std::exp(0.3 * normal());
    tape.thickness_um = some(thicknesses_) * std::exp(0.1 * normal());
    if (const double t = number(tape.format->tape.known("thickness"), "µm"); t > 0)
        tape.thickness_um = t * std::exp(0.03 * normal());
    const auto& shells = tape.format->shells;
    tape.shell = shells.empty() ? shells_[below(shells_.size())] : shells[below(shells.size())].id;
    tape.label = happens(0.1) ? labels_[below(labels_.size())] : "QX-77";
    if (!grades.empty() && !happens(0.1)) {
        const table::GradeOfFormat grade = grades[below(grades.size())];
        tape.label = grade.grade->id;
        if (!grade.grade->shell.empty()) tape.shell = grade.grade->shell;
        if (const Fact* length = grade.grade->facts.known("length"))
            tape.length_m = length->in("m") * std::exp(0.01 * normal());
        if (const double t = number(grade.grade->facts.known("thickness"), "µm"); t > 0)
            tape.thickness_um = t * std::exp(0.02 * normal());
        if (const double hub = number(grade.grade->facts.known("hub_diameter"), "mm"); hub > 0)
            tape.hub_mm = hub * std::exp(0.01 * normal());
    }
    tape.thickness_um *= 1.01 + 0.015 * normal();  // air between the turns
}

void TapeMaker::choose_colour(Tape& tape) {
    const Fact* process = raw_fact(*tape.format, *tape.mode, "colour_process");
    double grey = 0.05;
    if (process == nullptr || !process->is_known())
        grey = 0.25;
    else if (process->printed.starts_with("none") || process->printed.find("monochrome") != std::string::npos)
        grey = 0.8;
    const bool in_colour = tape.mode->system == "525/60" || tape.mode->system == "625/50";
    if (!in_colour || happens(grey))
        tape.colour = "none";
    else if (tape.mode->system == "525/60")
        tape.colour = happens(0.83) ? "NTSC" : "PAL";
    else
        tape.colour = happens(0.8) ? "PAL" : "SECAM";
}

std::optional<double> TapeMaker::true_value(const Tape& tape, Kind kind, double played_mm_s, double diameter_mm) {
    const auto at = [&](const char* key) { return tape.quantities.at(key); };
    const double speed = *at("tape_speed");
    const table::Scanning& scanning = *table_.find_scanning(tape.mode->system);
    switch (kind) {
        case Kind::TapeWidth:
            return at("width");
        case Kind::TrackPitch:
            return at("track_pitch");
        case Kind::TrackAngle:
            return at("track_angle_moving");
        case Kind::TracksPerMm:
            return at("tracks") ? std::optional(*at("tracks") / speed) : std::nullopt;
        case Kind::ControlTrackRate:
            return at("control_track_rate") ? std::optional(*at("control_track_rate") * played_mm_s / speed)
                                            : std::nullopt;
        case Kind::SoundSpeedRatio:
            return played_mm_s / speed;
        case Kind::ReelPeriod:
            return std::numbers::pi * diameter_mm / speed;
        case Kind::FieldRate:
            return scanning.field_rate().value() * tape.drum;
        case Kind::LineRate:
            return scanning.line_rate().value() * tape.drum;
        // Every copy and every worn head takes something off.
        case Kind::LumaBandwidth:
            return *at("luma_bandwidth") * std::exp(-std::exponential_distribution<double>(4)(random_));
        case Kind::SoundBandwidth:
            return *at("sound_bandwidth") * std::exp(-std::exponential_distribution<double>(4)(random_));
        case Kind::PackHub:
            return tape.hub_mm;
        case Kind::PackOuter:
            return std::sqrt(tape.hub_mm * tape.hub_mm + 4 * tape.length_m * tape.thickness_um / std::numbers::pi);
        case Kind::ProgrammeTime:
            return 1000 * tape.length_m / speed;
        default:
            return std::nullopt;
    }
}

double TapeMaker::blunder(double value, double lowest, double highest) {
    const double what = std::uniform_real_distribution<double>()(random_);
    if (what < 0.5) return lowest * std::pow(highest / lowest, std::uniform_real_distribution<double>()(random_));
    if (what < 0.75) return happens(0.5) ? value * 2 : value / 2;
    return value * std::exp((happens(0.5) ? 1 : -1) * std::uniform_real_distribution<double>(0.1, 0.35)(random_));
}

std::string TapeMaker::word(const Tape& tape, Kind kind, bool wrong) {
    static const std::vector<std::string> colours{"NTSC", "PAL", "SECAM", "none"};
    if (kind == Kind::Shell) return wrong ? shells_[below(shells_.size())] : tape.shell;
    if (kind == Kind::Label) return wrong ? labels_[below(labels_.size())] : tape.label;
    return wrong ? colours[below(4)] : tape.colour;
}

std::optional<Observation> TapeMaker::observed(const Tape& tape, Kind kind, bool may_blunder) {
    const bool wrong = may_blunder && happens(0.03);
    Observation seen;
    seen.kind = kind;
    const identify::KindInfo& info = info_of(kind);
    if (info.value == identify::KindInfo::Value::Word) {
        seen.text = word(tape, kind, wrong);
        if (plain(seen.text).empty()) return std::nullopt;
        return seen;
    }
    const auto& [format, mode] = with_speed_[below(with_speed_.size())];
    const double played = mode->facts.known("tape_speed")->in("mm/s") * std::exp(0.003 * normal());
    if (info.context == identify::KindInfo::Context::Speed || info.context == identify::KindInfo::Context::SpeedNeeded)
        seen.played_mm_s = mode->facts.known("tape_speed")->in("mm/s"), seen.played_relative = 0.003;
    seen.diameter_mm = 30 + static_cast<double>(below(60));
    const table::EvidenceKind& entry = *std::ranges::find(table_.evidence, info.id, &table::EvidenceKind::id);
    const double scatter = entry.facts.known("scatter")->in("share");
    const double lowest = *entry.facts.known("lowest")->value, highest = *entry.facts.known("highest")->value;
    std::optional<double> value = true_value(tape, kind, played, seen.diameter_mm);
    if (!value && !wrong) return std::nullopt;
    const double read = wrong ? blunder(value.value_or(std::sqrt(lowest * highest)), lowest, highest)
                              : *value * std::exp(scatter * normal());
    if (read < lowest || read > highest) return std::nullopt;  // nobody can read that
    seen.value = read;
    seen.uncertainty = scatter * seen.value;
    seen.text = quantity::shortest(seen.value);
    return seen;
}

std::vector<Kind> TapeMaker::shuffled_kinds() {
    std::vector<Kind> kinds;
    for (const identify::KindInfo& info : identify::all_kinds()) kinds.push_back(info.kind);
    for (std::size_t i = kinds.size(); i > 1; --i) std::swap(kinds[i - 1], kinds[below(i)]);
    return kinds;
}

std::optional<double> TapeMaker::nominal(const TapeFormat& format, const Mode& mode, Kind kind) const {
    const identify::Group group = identify::info_of(kind).group;
    if (group == identify::Group::Cassette || group == identify::Group::Colour || !is_documented(format, mode, kind))
        return std::nullopt;
    const auto at = [&](const char* key) { return number(raw_fact(format, mode, key), units().at(key)); };
    const table::Scanning& scanning = *table_.find_scanning(mode.system);
    switch (kind) {
        case Kind::TapeWidth:
            return at("width");
        case Kind::TrackPitch:
            return at("track_pitch");
        case Kind::TrackAngle:
            return at("track_angle_moving");
        case Kind::TracksPerMm:
            return tracks_per_s(table_, format, mode) / at("tape_speed");
        case Kind::ControlTrackRate:
            return at("control_track_rate") / at("tape_speed");
        case Kind::FieldRate:
            return scanning.field_rate().value();
        case Kind::LineRate:
            return scanning.line_rate().value();
        case Kind::LumaBandwidth:
            return at("luma_bandwidth");
        case Kind::SoundBandwidth:
            return at("sound_bandwidth");
        default:
            return 1 / at("tape_speed");
    }
}

bool TapeMaker::is_documented(const TapeFormat& format, const Mode& mode, Kind kind) const {
    const auto has = [&](const char* key) { return number(raw_fact(format, mode, key), units().at(key)) > 0; };
    switch (kind) {
        case Kind::TapeWidth:
            return has("width");
        case Kind::TrackPitch:
            return has("track_pitch");
        case Kind::TrackAngle:
            return has("track_angle_moving");
        case Kind::TracksPerMm:
            return tracks_per_s(table_, format, mode) > 0 && has("tape_speed");
        case Kind::ControlTrackRate:
            return has("control_track_rate") && has("tape_speed");
        case Kind::SoundSpeedRatio:
        case Kind::ReelPeriod:
            return has("tape_speed");
        case Kind::LumaBandwidth:
            return has("luma_bandwidth");
        case Kind::SoundBandwidth:
            return has("sound_bandwidth");
        case Kind::Shell:
            return !format.shells.empty();
        case Kind::Label:
        case Kind::PackOuter:
        case Kind::PackHub:
        case Kind::ProgrammeTime:
            return !table_.grades_in(format).empty();
        default:
            return true;
    }
}

}  // namespace guardband::support
