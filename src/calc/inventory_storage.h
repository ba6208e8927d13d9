#pragma once

#include <string>
#include <vector>

#include "calc/storage.h"

namespace guardband::calc {

/// A line of an inventory: tapes alike.
struct InventoryLine {
    std::string address;             ///< `vhs:625/50:SP`
    std::string grade;               ///< the label; empty where a time is given
    std::optional<Bounded> seconds;  ///< of programme on each; else all of the tape is taken
    std::int64_t count = 1;
    std::string place;  ///< how an error names the line: `museum.csv:4`
};

/// What a whole inventory takes.
struct InventoryStorage {
    /// What one codec takes for all of it.
    struct Total {
        const table::Codec* codec = nullptr;
        Bounded bytes;
    };

    std::int64_t tapes = 0;
    Bounded seconds;                            ///< all tapes one after another
    std::vector<Total> totals;                  ///< codecs in the table's order
    std::vector<const table::Raster*> rasters;  ///< one for each system: the tallest that the query leaves
    std::vector<StorageRate> rates;             ///< all that went into the totals
};

/// Sums the captures of all tapes; ranges add up at their worst. A codec that can't hold one of the systems is left
/// out.
/// @throws InputError naming the line whose mode or cassette the table does not know, or whose system has no raster
InventoryStorage inventory_storage(const table::Table& table, const std::vector<InventoryLine>& lines,
                                   const StorageQuery& query);

}  // namespace guardband::calc
