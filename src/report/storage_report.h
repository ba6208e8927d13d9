#pragma once

#include <string>
#include <vector>

#include "calc/inventory_storage.h"
#include "calc/storage.h"

namespace guardband::report {

/// What the figures of a report rest on.
struct StorageNotes {
    std::optional<calc::StoredSound> sound;  ///< beside the picture; none
    bool explain = false;
};

/// What each codec takes, on a terminal of 80 columns: an hour, and the stretch or each tape.
std::string storage_text(const std::vector<calc::StoredStretch>& stretches, const table::Table& table,
                         const StorageNotes& notes);

/// `{"rows": [{"codec", "bytes_per_hour", "bytes"}]}` as the contract has it, with system, raster, coding, ranges and
/// tape beside; `sound`, `containers`, `table_version`.
std::string storage_json(const std::vector<calc::StoredStretch>& stretches, const table::Table& table,
                         const StorageNotes& notes);

/// The sums of an inventory by codec, on a terminal of 80 columns.
std::string inventory_storage_text(const calc::InventoryStorage& inventory, const table::Table& table,
                                   const StorageNotes& notes);

/// `{"rows": [{"codec", "bytes", "bytes_low", "bytes_high"}], "tapes", "seconds", "rasters", "sound", "table_version"}`
std::string inventory_storage_json(const calc::InventoryStorage& inventory, const table::Table& table,
                                   const StorageNotes& notes);

}  // namespace guardband::report
