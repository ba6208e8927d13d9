#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "table/table.h"

namespace guardband::identify {

/// What can be observed of a tape. In the order in which people are shown them: the tape in the hand first.
enum class Kind {
    TapeWidth,
    Shell,
    Label,
    PackOuter,
    PackHub,
    TracksPerMm,
    TrackPitch,
    TrackAngle,
    ControlTrackRate,
    ReelPeriod,
    FieldRate,
    LineRate,
    Colour,
    SoundSpeedRatio,
    LumaBandwidth,
    SoundBandwidth,
    ProgrammeTime
};

/// Observations that bear on the same quantity of a tape besides its speed; see `mode_model.h`.
enum class Group { Width, Control, Tracks, Pitch, Angle, Drum, Luma, Sound, Speed, Cassette, Colour };
inline constexpr std::size_t group_count = 11;

/// One kind of evidence: how it is named and read. What it is like in practice stands in `evidence.toml`.
struct KindInfo {
    enum class Value { Number, Time, Word };
    enum class Context { None, Speed, SpeedNeeded, DiameterNeeded };

    Kind kind;
    std::string_view id;
    std::string_view unit;  ///< empty for bare numbers and words
    Value value;
    Context context;  ///< what stands after @
    Group group;
};

/// The registry: every kind, in the order of `Kind`.
std::span<const KindInfo> all_kinds();
const KindInfo& info_of(Kind kind);
std::string_view id_of(Kind kind);

/// The kind of this id. @throws InputError with the nearest one that is known
Kind kind_named(std::string_view id, const std::string& input);

/// What `evidence.toml` says of a kind, in the form in which it is calculated with.
struct KindData {
    const table::EvidenceKind* entry = nullptr;
    double scatter = 0;              ///< standard deviation of the logarithm of a careful reading; 0 for words
    double blunders = 0;             ///< share of readings that are wrong altogether
    double lowest = 0, highest = 0;  ///< what can be read, in the kind's unit
    double log_blunder_density = 0;  ///< of the logarithm of a blunder: even over what can be read
};

/// @throws DomainError if the table does not describe the kind
KindData data_of(const table::Table& table, Kind kind);

}  // namespace guardband::identify
