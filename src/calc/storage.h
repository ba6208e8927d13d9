#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calc/running_time.h"
#include "calc/working.h"
#include "table/table.h"

namespace guardband::calc {

/// Sound as it is stored beside the picture: linear PCM.
struct StoredSound {
    double sampling_hz = 48000;  ///< 48 kHz, 24 bits, two channels: common practice of archives, no source
    int bits = 24, channels = 2;

    double bytes_per_s() const { return sampling_hz * bits / 8 * channels; }
};

/// What is to be stored, and how.
struct StorageQuery {
    const table::Codec* codec = nullptr;      ///< nullptr: every codec
    const table::Scanning* system = nullptr;  ///< nullptr: every system that has a raster
    std::string raster;                       ///< `720x480`; empty: every raster of the system
    std::optional<StoredSound> sound = StoredSound{};
    bool adds_sound_anyway = false;  ///< also to a codec that holds sound inside its frames
};

/// What a codec takes on one system and raster. The figures are decimal: bytes.
struct StorageRate {
    const table::Codec* codec = nullptr;
    const table::Scanning* system = nullptr;
    const table::Raster* raster = nullptr;  ///< nullptr where the codec's frames are the same for all
    Bounded frame_bytes;  ///< of picture; a range for lossless codecs only, `value` the middle of what was measured
    double sound_bytes_per_s = 0;
    bool is_range() const { return frame_bytes.low < frame_bytes.high; }
};

/// Bytes of one uncompressed frame: each line is whole groups of pixels, filled up to a multiple. Exact.
/// @throws DomainError for a codec that is not uncompressed
double uncompressed_frame_bytes(const table::Codec& codec, int width, int height);

/// Every codec on every system and raster that the query leaves, in the table's order.
/// @throws InputError if nothing is left, saying why
std::vector<StorageRate> storage_rates(const table::Table& table, const StorageQuery& query);

/// Bytes of a stretch of time: frame bytes × frame rate × time, and sound. The range takes both ends of the time and of
/// the codec at their worst.
/// @param seconds  0 or more
Bounded stored_bytes(const StorageRate& rate, const Bounded& seconds);

/// One stretch of time with what each codec makes of it.
struct StoredStretch {
    Bounded seconds;
    std::optional<RunningTime> tape;  ///< the cassette and mode that run so long; none if a time was given
    std::vector<StorageRate> rates;
};

/// Each tape on its own mode's system. Tapes of systems that have no raster are left out.
/// @throws InputError if nothing is left
std::vector<StoredStretch> stored_tapes(const table::Table& table, const std::vector<RunningTime>& tapes,
                                        const StorageQuery& query);

/// The largest share that a container of the table adds to these, of their bytes.
double largest_container_share(const table::Table& table, const std::vector<StorageRate>& rates);

/// How one hour was worked out.
Working storage_working(const StorageRate& rate);

}  // namespace guardband::calc
