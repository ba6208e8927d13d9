#include "calc/inventory_storage.h"

#include <algorithm>
#include <map>

#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::InputError;

Bounded times(const Bounded& bounded, double factor) {
    return {bounded.value * factor, bounded.low * factor, bounded.high * factor};
}

void add(Bounded& sum, const Bounded& more) { sum.value += more.value, sum.low += more.low, sum.high += more.high; }

/// How long each tape of a line runs.
Bounded seconds_of(const table::Table& table, const InventoryLine& line, const table::TapeFormat& format,
                   const table::Mode& mode) {
    if (line.seconds) return *line.seconds;
    RunningTimeQuery query;
    query.format = &format, query.grade = line.grade, query.mode = mode.id;
    query.system = table.find_scanning(mode.system);
    try {
        for (const RunningTime& row : running_times(table, query))
            if (row.mode == &mode) return row.seconds;
    } catch (const InputError& e) {
        throw InputError(line.place, e.what(), "give minutes instead");
    }
    throw InputError(line.place, "the length of " + line.grade + " or the speed of " + line.address + " is not known",
                     "give minutes instead");
}

/// Of each codec the rate on the tallest raster, so that nothing of the picture is lost.
std::vector<StorageRate> rates_of(const table::Table& table, const InventoryLine& line, const table::Mode& mode,
                                  StorageQuery query) {
    query.system = table.find_scanning(mode.system);
    if (std::ranges::find(table.rasters, mode.system, &table::Raster::scanning) == table.rasters.end())
        throw InputError(line.place, "the table has no raster of " + mode.system + " to store",
                         "leave the line out of the inventory");
    std::vector<StorageRate> tallest;
    for (const StorageRate& rate : storage_rates(table, query)) {
        const auto same = std::ranges::find(tallest, rate.codec, &StorageRate::codec);
        if (same == tallest.end())
            tallest.push_back(rate);
        else if (rate.raster->height() > same->raster->height())
            *same = rate;
    }
    return tallest;
}

/// Totals of all codecs while lines are added.
class Sums {
public:
    void add_line(const std::vector<StorageRate>& rates, const Bounded& seconds, double count) {
        ++lines_;
        for (const StorageRate& rate : rates) {
            Sum& sum = sums_[rate.codec];
            ++sum.lines;
            add(sum.bytes, times(stored_bytes(rate, seconds), count));
        }
    }

    /// The codecs that every line could be stored in.
    std::vector<InventoryStorage::Total> totals(const table::Table& table) const {
        std::vector<InventoryStorage::Total> all;
        for (const table::Codec& codec : table.codecs)
            if (const auto found = sums_.find(&codec); found != sums_.end() && found->second.lines == lines_)
                all.push_back({&codec, found->second.bytes});
        return all;
    }

private:
    struct Sum {
        Bounded bytes;
        std::size_t lines = 0;
    };
    std::map<const table::Codec*, Sum> sums_;
    std::size_t lines_ = 0;
};

void note_rates(InventoryStorage& inventory, const std::vector<StorageRate>& rates) {
    for (const StorageRate& rate : rates) {
        if (rate.raster != nullptr && std::ranges::find(inventory.rasters, rate.raster) == inventory.rasters.end())
            inventory.rasters.push_back(rate.raster);
        const bool is_known = std::ranges::any_of(inventory.rates, [&](const StorageRate& r) {
            return r.codec == rate.codec && r.system == rate.system && r.raster == rate.raster;
        });
        if (!is_known) inventory.rates.push_back(rate);
    }
}

}  // namespace

InventoryStorage inventory_storage(const table::Table& table, const std::vector<InventoryLine>& lines,
                                   const StorageQuery& query) {
    InventoryStorage inventory;
    Sums sums;
    for (const InventoryLine& line : lines) {
        const auto [format, mode] = table.at(line.address, line.place);
        const Bounded seconds = seconds_of(table, line, *format, *mode);
        const std::vector<StorageRate> rates = rates_of(table, line, *mode, query);
        const auto count = static_cast<double>(line.count);
        sums.add_line(rates, seconds, count);
        note_rates(inventory, rates);
        inventory.tapes += line.count;
        add(inventory.seconds, times(seconds, count));
    }
    inventory.totals = sums.totals(table);
    return inventory;
}

}  // namespace guardband::calc
