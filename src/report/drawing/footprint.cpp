#include "report/drawing/footprint.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "calc/track_geometry.h"
#include "quantity/errors.h"

namespace guardband::report::drawing {
namespace {

using quantity::InputError;
using table::Fact;

constexpr double least_angle_deg = 0.1;  // below it a helical track would be as long as the tape: no drawing shows that

double radians(double degrees) { return degrees * std::numbers::pi / 180; }

constexpr std::string_view plain_reason = "not in the table";

/// A fact's reason for having no value, or the plain one.
std::string reason_of(const Fact* fact) {
    const bool says_why = fact != nullptr && !fact->is_known() && fact->unknown != "no source gives it";
    return says_why ? fact->unknown : std::string(plain_reason);
}

bool says(const Fact* fact, std::string_view word) {
    return fact != nullptr && fact->is_known() && fact->printed.find(word) != std::string::npos;
}

/// Fills a footprint step by step.
class Reading {
public:
    Reading(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode,
            const std::string& input)
        : table_(table),
          format_(format),
          mode_(mode),
          input_(input),
          facts_(calc::track_facts(table, format, mode)),
          geometry_(calc::track_geometry(table, format, mode)) {}

    Footprint whole() {
        footprint_.format = &format_;
        footprint_.mode = &mode_;
        read_tape();
        if (footprint_.layout != Footprint::Layout::Along)
            read_tracks();
        else
            read_tracks_along();
        read_edge_tracks();
        if (footprint_.layout != Footprint::Layout::Along) place_tracks();
        return std::move(footprint_);
    }

private:
    /// The fact of a key in this mode, whether it is known or not: to tell why it is not.
    const Fact* mention(std::string_view key) const {
        if (const Fact* own = mode_.facts.find(key)) return own;
        if (const table::FormatSystem* system = format_.find_system(mode_.system))
            if (const Fact* shared = system->facts.find(key)) return shared;
        return format_.drum.find(key);
    }

    InputError lacking(const std::string& what, const Fact* mentioned) const {
        return {input_,
                fmt::format("the table gives no {} of {}{}", what, table::address_of(format_, mode_),
                            with_reason(mentioned)),
                fmt::format("`guardband formats {}` shows what it has; a file of your own with --formats can add to it",
                            format_.id)};
    }

    static std::string with_reason(const Fact* mentioned) {
        const std::string reason = reason_of(mentioned);
        return reason == plain_reason ? "" : " (" + reason + ")";
    }

    std::optional<double> value(std::string_view key, std::string_view unit) const {
        const Fact* fact = format_.fact_in(mode_, key);
        return fact != nullptr && fact->is_number() ? std::optional(fact->in(unit)) : std::nullopt;
    }

    /// Notes what is left out, and why: as the fact says, if there is one.
    void miss(std::string_view what, const Fact* mentioned = nullptr) {
        footprint_.missing.push_back(fmt::format("{} ({})", what, reason_of(mentioned)));
    }
    void assume(std::string what) { footprint_.assumed.push_back(std::move(what)); }

    void read_tape() {
        const Fact* width = format_.tape.known("width");
        if (width == nullptr) throw lacking("tape width", format_.tape.find("width"));
        footprint_.tape_width_mm = width->in("mm");
        if (const Fact* sides = format_.tape.known("sides")) footprint_.sides = static_cast<int>(*sides->value);
        if (facts_.tape_speed == nullptr) throw lacking("tape speed", mention("tape_speed"));
        footprint_.tape_speed_mm_s = facts_.tape_speed->in("mm/s");
        if (facts_.heads_stand_still) footprint_.layout = Footprint::Layout::Along;
        if (facts_.is_transverse) footprint_.layout = Footprint::Layout::Across;
        footprint_.motion = facts_.motion;
        footprint_.writing_speed_m_s = geometry_.writing_speed_m_s.number();
        if (facts_.heads != nullptr) footprint_.heads = static_cast<int>(*facts_.heads->value);
    }

    void read_tracks() {
        const auto angle = geometry_.angle_moving_deg.number();
        if (!angle || *angle < least_angle_deg) throw lacking("track angle", mention("track_angle_moving"));
        footprint_.angle_deg = *angle;
        if (facts_.angle_moving == nullptr) assume("the track angle, worked out from the angle with the tape still");
        footprint_.pitch_um = value("track_pitch", "µm");
        if (!footprint_.pitch_um) {
            footprint_.pitch_um = geometry_.pitch_um.number();
            assume("the track pitch, worked out from speed and angle");
        }
        if (!footprint_.pitch_um) throw lacking("track pitch", mention("track_pitch"));
        footprint_.tracks_per_mm = geometry_.tracks_per_mm.number();
        read_bands();
        read_turns();
        if (!footprint_.motion && footprint_.layout == Footprint::Layout::Slanted) {
            miss("whether the heads run with or against the tape");
            assume("the tracks leaning as if the heads ran with the tape");
        }
    }

    void read_bands() {
        footprint_.track_width_um = value("track_width", "µm");
        footprint_.colour_track_width_um = value("colour_track_width", "µm");
        footprint_.guard_band_um = value("guard_band", "µm");
        footprint_.azimuth_deg = value("azimuth", "deg");
        if (!footprint_.track_width_um) {
            miss("track width");
            assume("the tracks as wide as their pitch");
        } else if (!footprint_.guard_band_um &&
                   *footprint_.track_width_um + footprint_.colour_track_width_um.value_or(0) <
                       0.98 * *footprint_.pitch_um) {
            miss("guard band");
        }
        if (!footprint_.azimuth_deg) miss("azimuth of the heads");
    }

    /// How many tracks make a field, how many heads take turns, and how long a track is.
    void read_turns() {
        if (!facts_.tracks_per_s) {
            miss("tracks per second");
            return miss("length of the tracks");
        }
        const double rate = facts_.tracks_per_s->value();
        footprint_.tracks_per_field = rate / table_.find_scanning(mode_.system)->field_rate().value();
        if (facts_.drum_speed != nullptr) {
            const double per_turn = rate / facts_.drum_speed->in("rev/s");
            if (std::abs(per_turn - std::round(per_turn)) < 0.01 && per_turn > 0.5)
                footprint_.heads = static_cast<int>(std::round(per_turn));
            read_length(per_turn);
        }
        if (!footprint_.track_length_mm) miss("length of the tracks");
    }

    /// Where the wrap holds more than one head at a time, a track is longer than the way from one track's start to the
    /// next one's by as many. What the wrap holds beyond whole tracks is overlap, which is not drawn; where it holds
    /// less, the track has a gap.
    void read_length(double tracks_per_turn) {
        const auto wrap = value("wrap", "deg");
        if (!wrap && tracks_per_turn > 2.01) return;
        const double at_once = wrap ? *wrap * tracks_per_turn / 360 : 1;
        const auto length = geometry_.length_mm.number();
        if (!length) return;
        const double recorded_mm = *length * std::min(at_once, std::max(1.0, std::round(at_once)));
        if (calc::track_height_mm(recorded_mm, footprint_.angle_deg) <= footprint_.side_width_mm())
            footprint_.track_length_mm = recorded_mm;
    }

    void read_tracks_along() {
        miss("width and place of the tracks", mention("track_pitch"));
        assume("tracks as their centre lines, evenly apart");
        if (!footprint_.heads) {
            miss("how many tracks there are");
            footprint_.heads = 1;
        }
    }

    void read_edge_tracks() {
        read_edge_track("linear sound", "linear_sound_track_width", "sound_track_edge", count_of("linear_sound_tracks"),
                        true);
        if (mention("control_track_width") == nullptr)
            miss("control track", mention("control_track_rate"));
        else
            read_edge_track("control track", "control_track_width", "control_track_edge", 1, false);
        if (mention("cue_track_width") != nullptr)
            read_edge_track("cue track", "cue_track_width", "cue_track_edge", 1, false);
        if (!footprint_.edge_tracks.empty()) assume("the edge tracks at the very edge, next to each other");
        if (has_unnamed_edge_) assume("which edge is the upper one");
    }

    int count_of(std::string_view key) const {
        const Fact* fact = format_.fact_in(mode_, key);
        return fact == nullptr ? 1 : static_cast<int>(*fact->value);
    }

    void read_edge_track(const std::string& name, std::string_view width_key, std::string_view edge_key, int count,
                         bool usually_upper) {
        const Fact* width = format_.fact_in(mode_, width_key);
        const Fact* edge = format_.fact_in(mode_, edge_key);
        if (width == nullptr) return miss(name, mention(width_key));
        if (edge == nullptr)
            return miss(fmt::format("{} of {}{}, its place", name, count > 1 ? fmt::format("{} × ", count) : "",
                                    width_text(*width)));
        EdgeTrack track{name, width->in("mm"), count, usually_upper, width};
        if (says(edge, "upper"))
            track.at_upper_edge = true;
        else if (says(edge, "lower"))
            track.at_upper_edge = false;
        else
            has_unnamed_edge_ = true;
        if (footprint_.sides > 1) track.at_upper_edge = false;  // the outer edge of the side that is drawn below
        footprint_.edge_tracks.push_back(std::move(track));
    }

    static std::string width_text(const Fact& width) { return fmt::format("{:.3g} mm", width.in("mm")); }

    double edge_height_mm(bool upper) const {
        double height = 0;
        for (const EdgeTrack& track : footprint_.edge_tracks)
            if (track.at_upper_edge == upper) height += track.height_mm();
        return height;
    }

    /// The video tracks lie between the edge tracks: midway if their length is known, else from one to the other. Heads
    /// that run across the tape touch it from edge to edge.
    void place_tracks() {
        const double low = edge_height_mm(false), high = footprint_.side_width_mm() - edge_height_mm(true);
        footprint_.low_mm = low;
        footprint_.high_mm = high;
        if (footprint_.layout == Footprint::Layout::Across) {
            footprint_.low_mm = 0;
            footprint_.high_mm = footprint_.side_width_mm();
            assume("the heads touching the tape from edge to edge");
        } else if (footprint_.track_length_mm) {
            const double height = calc::track_height_mm(*footprint_.track_length_mm, footprint_.angle_deg);
            footprint_.low_mm = std::clamp((low + high - height) / 2, 0.0, footprint_.side_width_mm() - height);
            footprint_.high_mm = footprint_.low_mm + height;
            assume(footprint_.edge_tracks.size() > 1 ? "the video tracks midway between the edge tracks"
                                                     : "the video tracks midway across the tape");
        } else {
            assume("the video tracks from edge to edge");
        }
        assume("the heads entering at the lower edge");
    }

    const table::Table& table_;
    const table::TapeFormat& format_;
    const table::Mode& mode_;
    const std::string& input_;
    calc::TrackFacts facts_;
    calc::TrackGeometry geometry_;
    Footprint footprint_;
    bool has_unnamed_edge_ = false;
};

}  // namespace

double Footprint::advance_mm() const { return pitch_um.value_or(0) / 1e3 / std::sin(radians(angle_deg)); }

double Footprint::along() const {
    const double cosine = std::cos(radians(angle_deg));
    return motion == calc::HeadMotion::AgainstTape ? cosine : -cosine;
}

double Footprint::across() const { return std::sin(radians(angle_deg)); }

Footprint footprint_of(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode,
                       const std::string& input) {
    try {
        return Reading(table, format, mode, input).whole();
    } catch (const quantity::DomainError& e) {  // figures of the table that contradict each other
        throw InputError(input,
                         fmt::format("the figures of {} can’t be drawn: {}", table::address_of(format, mode), e.what()),
                         "correct them in its file");
    }
}

}  // namespace guardband::report::drawing
