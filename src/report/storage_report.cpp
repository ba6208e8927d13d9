#include "report/storage_report.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/figure_page.h"
#include "report/text_table.h"
#include "report/working_report.h"

namespace guardband::report {
namespace {

using calc::Bounded;
using calc::StorageRate;
using calc::StoredStretch;
using quantity::h_mm_ss;

constexpr double gigabyte = 1e9;
constexpr Bounded hour{3600, 3600, 3600};

/// Three digits at least, and hundredths of a GB at most.
std::string gigabytes(double bytes) {
    const double gb = bytes / gigabyte;
    return fmt::format("{:.{}f}", gb, gb < 100 ? 2 : gb < 1000 ? 1 : 0);
}

std::string range_text(const Bounded& bytes) {
    const std::string low = gigabytes(bytes.low), high = gigabytes(bytes.high);
    return low == high ? "" : low + " to " + high;
}

std::string raster_of(const StorageRate& rate) { return rate.raster == nullptr ? "-" : rate.raster->id; }

std::string heading_of(const StoredStretch& stretch) {
    const std::string range =
        h_mm_ss(stretch.seconds.low) == h_mm_ss(stretch.seconds.high)
            ? ""
            : fmt::format(" ({} to {})", h_mm_ss(stretch.seconds.low), h_mm_ss(stretch.seconds.high));
    const std::string time = h_mm_ss(stretch.seconds.value) + range;
    if (!stretch.tape) return "Storage of " + time;
    const calc::RunningTime& tape = *stretch.tape;
    return fmt::format("{}, {}: {}",
                       tape.grade == nullptr ? fmt::format("{:.1f} m of tape", tape.length_m.value) : tape.grade->id,
                       address_of(*tape.format, *tape.mode), time);
}

std::string table_text(const StoredStretch& stretch) {
    using enum TextTable::Align;
    TextTable text(
        {{"codec", Left}, {"system", Left}, {"raster", Left}, {"GB an hour", Right}, {"GB", Right}, {"range", Left}});
    for (const StorageRate& rate : stretch.rates) {
        const Bounded whole = stored_bytes(rate, stretch.seconds);
        text.add({rate.codec->id, rate.system->id, raster_of(rate), gigabytes(stored_bytes(rate, hour).value),
                  gigabytes(whole.value), range_text(whole)});
    }
    return text.to_string();
}

bool any_lossless(const std::vector<StoredStretch>& stretches) {
    return std::ranges::any_of(
        stretches, [](const StoredStretch& s) { return std::ranges::any_of(s.rates, &StorageRate::is_range); });
}

bool any_exact(const std::vector<StoredStretch>& stretches) {
    return std::ranges::any_of(
        stretches, [](const StoredStretch& s) { return !std::ranges::all_of(s.rates, &StorageRate::is_range); });
}

/// Codecs that hold their sound inside, where that is why none was added.
std::string with_sound_inside(const std::vector<StoredStretch>& stretches) {
    std::string names;
    for (const StorageRate& rate : stretches.front().rates)
        if (rate.codec->facts.known("sound") != nullptr && rate.sound_bytes_per_s == 0 &&
            names.find(rate.codec->id) == std::string::npos)
            names += (names.empty() ? "" : ", ") + rate.codec->id;
    return names;
}

std::string sound_text(const std::vector<StoredStretch>& stretches, const StorageNotes& notes) {
    std::string text = "No sound is counted.";
    if (notes.sound)
        text =
            fmt::format("Sound is counted in: {} channel{} of {:g} kHz and {} bits, {} GB an hour.",
                        notes.sound->channels, notes.sound->channels == 1 ? "" : "s", notes.sound->sampling_hz / 1000,
                        notes.sound->bits, gigabytes(notes.sound->bytes_per_s() * hour.value));
    const std::string inside = with_sound_inside(stretches);
    return text + (inside.empty() ? "" : " None beside " + inside + ": sound is inside.");
}

/// The pictures at both ends of what was measured.
std::string measured_text(const std::vector<StoredStretch>& stretches) {
    for (const StorageRate& rate : stretches.front().rates) {
        if (!rate.is_range()) continue;
        const auto bits = [](const table::CodecPicture& p) { return p.facts.known("bits_per_pixel")->in(""); };
        const auto [low, high] = std::ranges::minmax_element(rate.codec->pictures, {}, bits);
        return fmt::format(
            "Lossless codecs: as measured on made pictures of a tape's bandwidth, the middle of {} of them; "
            "the range goes from \"{}\" (S/N {} dB) to \"{}\" ({} dB).",
            rate.codec->pictures.size(), low->id, low->facts.known("snr")->printed, high->id,
            high->facts.known("snr")->printed);
    }
    return "";
}

std::string notes_of(const std::vector<StoredStretch>& stretches, const table::Table& table,
                     const StorageNotes& notes) {
    std::string text = "GB are 10^9 bytes. " + sound_text(stretches, notes);
    if (any_lossless(stretches)) text += " " + measured_text(stretches);
    if (any_lossless(stretches) && any_exact(stretches)) text += " The others are exact.";
    double share = 0;
    for (const StoredStretch& stretch : stretches)
        share = std::max(share, largest_container_share(table, stretch.rates));
    return text + fmt::format(" A container adds {:.2g} % at most (not counted).", 100 * share);
}

/// One hour of each codec and system, those of all stretches together.
calc::Working working_of(const std::vector<StoredStretch>& stretches) {
    calc::Working all;
    for (const StoredStretch& stretch : stretches)
        for (const StorageRate& rate : stretch.rates) {
            const calc::Working working = storage_working(rate);
            if (std::ranges::find(all, working.back().meaning, &calc::Step::meaning) == all.end())
                all.insert(all.end(), working.begin(), working.end());
        }
    return all;
}

Json bounded_json(const Bounded& bounded) {
    return {std::llround(bounded.value), std::llround(bounded.low), std::llround(bounded.high)};
}

void put_bounded(Json& json, const std::string& key, const Bounded& bytes) {
    const Json three = bounded_json(bytes);
    json[key] = three[0], json[key + "_low"] = three[1], json[key + "_high"] = three[2];
}

Json row_json(const StoredStretch& stretch, const StorageRate& rate) {
    Json json = {{"codec", rate.codec->id},
                 {"coding", to_string(rate.codec->coding)},
                 {"system", rate.system->id},
                 {"raster", nullptr}};
    if (rate.raster != nullptr) json["raster"] = rate.raster->id;
    if (stretch.tape) {
        json["address"] = address_of(*stretch.tape->format, *stretch.tape->mode);
        json["grade"] = nullptr;
        if (stretch.tape->grade != nullptr) json["grade"] = stretch.tape->grade->id;
        json["length_m"] = stretch.tape->length_m.value;
    }
    json["seconds"] = stretch.seconds.value;
    put_bounded(json, "bytes_per_hour", stored_bytes(rate, hour));
    put_bounded(json, "bytes", stored_bytes(rate, stretch.seconds));
    json["sound_bytes_per_hour"] = std::llround(rate.sound_bytes_per_s * hour.value);
    return json;
}

Json sound_json(const StorageNotes& notes) {
    if (!notes.sound) return nullptr;
    return {
        {"sampling_hz", notes.sound->sampling_hz}, {"bits", notes.sound->bits}, {"channels", notes.sound->channels}};
}

}  // namespace

std::string storage_text(const std::vector<StoredStretch>& stretches, const table::Table& table,
                         const StorageNotes& notes) {
    std::string text;
    for (const StoredStretch& stretch : stretches)
        text += (text.empty() ? "" : "\n") + heading_of(stretch) + "\n\n" + table_text(stretch);
    text += "\n" + wrapped(notes_of(stretches, table, notes), page_width) + "\n";
    if (notes.explain) text += working_text(working_of(stretches), table);
    return text + "\n" + wrapped(edition_text(table.edition) + ".", page_width) + "\n";
}

std::string storage_json(const std::vector<StoredStretch>& stretches, const table::Table& table,
                         const StorageNotes& notes) {
    Json rows = Json::array(), containers = Json::array();
    for (const StoredStretch& stretch : stretches)
        for (const StorageRate& rate : stretch.rates) {
            rows.push_back(row_json(stretch, rate));
            if (notes.explain) rows.back()["working"] = working_json(storage_working(rate));
        }
    for (const table::Container& container : table.containers)
        containers.push_back(
            {{"container", container.id}, {"bytes_per_frame", container.facts.known("frame_overhead")->in("bytes")}});
    return to_text(Json{{"rows", std::move(rows)},
                        {"sound", sound_json(notes)},
                        {"containers", std::move(containers)},
                        {"table_version", table.edition.version}});
}

std::string inventory_storage_text(const calc::InventoryStorage& inventory, const table::Table& table,
                                   const StorageNotes& notes) {
    using enum TextTable::Align;
    const Bounded& seconds = inventory.seconds;
    std::string text = fmt::format("{} tapes, {} of programme ({} to {})\n\n", inventory.tapes, h_mm_ss(seconds.value),
                                   h_mm_ss(seconds.low), h_mm_ss(seconds.high));
    TextTable rows({{"codec", Left}, {"GB", Right}, {"range", Left}});
    for (const auto& [codec, bytes] : inventory.totals)
        rows.add({codec->id, gigabytes(bytes.value), range_text(bytes)});
    std::string rasters;
    for (const table::Raster* raster : inventory.rasters)
        rasters += (rasters.empty() ? "Counted as " : ", ") + raster->id;
    const std::vector<StoredStretch> all{{seconds, std::nullopt, inventory.rates}};
    const std::string remarks = notes_of(all, table, notes) + (rasters.empty() ? "" : " " + rasters + ".");
    text += rows.to_string() + "\n" + wrapped(remarks, page_width) + "\n";
    if (notes.explain) text += working_text(working_of(all), table);
    return text + "\n" + wrapped(edition_text(table.edition) + ".", page_width) + "\n";
}

std::string inventory_storage_json(const calc::InventoryStorage& inventory, const table::Table& table,
                                   const StorageNotes& notes) {
    Json rows = Json::array(), rasters = Json::array();
    for (const auto& [codec, bytes] : inventory.totals) {
        Json row = {{"codec", codec->id}};
        put_bounded(row, "bytes", bytes);
        rows.push_back(std::move(row));
    }
    for (const table::Raster* raster : inventory.rasters) rasters.push_back(raster->id);
    return to_text(Json{{"rows", std::move(rows)},
                        {"tapes", inventory.tapes},
                        {"seconds", inventory.seconds.value},
                        {"rasters", std::move(rasters)},
                        {"sound", sound_json(notes)},
                        {"table_version", table.edition.version}});
}

}  // namespace guardband::report
