#include "calc/storage.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::InputError;
using table::Codec;
using table::Coding;
using table::Fact;

constexpr double seconds_per_hour = 3600;

double number_of(const table::Facts& facts, std::string_view key, std::string_view unit) {
    const Fact* fact = facts.known(key);
    if (fact == nullptr) throw quantity::DomainError("the codec has no " + std::string(key));
    return fact->in(unit);
}

/// The least, the middle and the most that the measured pictures take, bits a pixel.
Bounded measured_bits(const Codec& codec) {
    std::vector<double> bits;
    for (const table::CodecPicture& picture : codec.pictures)
        bits.push_back(number_of(picture.facts, "bits_per_pixel", ""));
    std::ranges::sort(bits);
    return {bits.at((bits.size() - 1) / 2), bits.front(), bits.back()};
}

Bounded exactly(double value) { return {value, value, value}; }

Bounded frame_bytes(const Codec& codec, const table::Raster& raster) {
    if (codec.coding == Coding::Uncompressed)
        return exactly(uncompressed_frame_bytes(codec, raster.width(), raster.height()));
    const Bounded bits = measured_bits(codec);
    const double bytes_per_bit = static_cast<double>(raster.width()) * raster.height() / 8;
    return {bits.value * bytes_per_bit, bits.low * bytes_per_bit, bits.high * bytes_per_bit};
}

bool is_wanted(const StorageQuery& query, const table::Raster& raster, const table::Scanning& system) {
    return raster.scanning == system.id && (query.raster.empty() || query.raster == raster.id);
}

double sound_beside(const StorageQuery& query, const Codec& codec) {
    const bool holds_sound = codec.facts.known("sound") != nullptr;
    return query.sound && (!holds_sound || query.adds_sound_anyway) ? query.sound->bytes_per_s() : 0;
}

void add_rates(const table::Table& table, const StorageQuery& query, const Codec& codec, const table::Scanning& system,
               std::vector<StorageRate>& rates) {
    const double sound = sound_beside(query, codec);
    for (const table::CodecSystem& own : codec.systems)
        if (own.id == system.id)
            rates.push_back({&codec, &system, nullptr, exactly(number_of(own.facts, "frame_bytes", "bytes")), sound});
    if (codec.coding == Coding::ConstantRate || codec.coding == Coding::Lossy) return;
    for (const table::Raster& raster : table.rasters)
        if (is_wanted(query, raster, system))
            rates.push_back({&codec, &system, &raster, frame_bytes(codec, raster), sound});
}

void expect_known_raster(const table::Table& table, const StorageQuery& query) {
    if (query.raster.empty()) return;
    std::string known;
    for (const table::Raster& raster : table.rasters) {
        if (query.system != nullptr && raster.scanning != query.system->id) continue;
        if (raster.id == query.raster) return;
        known += (known.empty() ? "" : ", ") + raster.id;
    }
    const std::string where = query.system == nullptr ? "" : " of " + query.system->id;
    throw InputError("--raster " + query.raster, "no such raster" + where,
                     known.empty() ? "leave it out" : "use one of " + known);
}

void expect_known_rate(const StorageQuery& query) {
    if (query.codec == nullptr || query.codec->coding != Coding::Lossy) return;
    throw InputError("--codec " + query.codec->id, "takes as much as whoever encodes with it chooses",
                     "take the rate that was chosen times the running time");
}

Given fact_given(const std::string& symbol, const std::string& meaning, const Fact& fact) {
    return {symbol, meaning, fact.printed + (fact.unit->name.empty() ? "" : " ") + std::string(fact.unit->name), &fact};
}

Step frame_step(const StorageRate& rate) {
    const Codec& codec = *rate.codec;
    Step step{"bytes of a frame of picture", "", "", fmt::format("{:.0f} bytes", rate.frame_bytes.value), {}, ""};
    if (codec.coding == Coding::ConstantRate) {
        step.formula = "F = constant";
        for (const table::CodecSystem& own : codec.systems)
            if (own.id == rate.system->id)
                step.givens.push_back(fact_given("F", "bytes of a frame", *own.facts.known("frame_bytes")));
        return step;
    }
    const int width = rate.raster->width(), height = rate.raster->height();
    step.givens = {fact_given("w", "pixels a line", *rate.raster->facts.known("width")),
                   fact_given("h", "lines a frame", *rate.raster->facts.known("height"))};
    if (codec.coding == Coding::Lossless) {
        const Bounded bits = measured_bits(codec);
        step.formula = "F = w h b / 8";
        step.numbers = fmt::format("{} × {} × {:.2f} / 8", width, height, bits.value);
        step.result += fmt::format(" ({:.0f} to {:.0f} as b goes from {:.2f} to {:.2f})", rate.frame_bytes.low,
                                   rate.frame_bytes.high, bits.low, bits.high);
        for (const table::CodecPicture& picture : codec.pictures)
            step.givens.push_back(
                fact_given("b", picture.id + ", S/N " + picture.facts.known("snr")->printed + " dB, bits a pixel",
                           *picture.facts.known("bits_per_pixel")));
        return step;
    }
    step.formula = "F = h [w / p] g, [ ] up to whole groups";
    step.numbers = fmt::format("{} × {:.0f}", height, rate.frame_bytes.value / height);
    step.givens.push_back(fact_given("p", "pixels in a group", *codec.facts.known("group_pixels")));
    step.givens.push_back(fact_given("g", "bytes of a group", *codec.facts.known("group_bytes")));
    if (const Fact* multiple = codec.facts.known("line_multiple"))
        step.givens.push_back(fact_given("m", "each line filled up to a multiple of m", *multiple));
    return step;
}

}  // namespace

double uncompressed_frame_bytes(const Codec& codec, int width, int height) {
    const double group_bytes = number_of(codec.facts, "group_bytes", "bytes");
    const double groups = std::ceil(width / number_of(codec.facts, "group_pixels", ""));
    const Fact* multiple = codec.facts.known("line_multiple");
    const double step = multiple == nullptr ? 1 : multiple->in("bytes");
    return height * step * std::ceil(groups * group_bytes / step);
}

std::vector<StorageRate> storage_rates(const table::Table& table, const StorageQuery& query) {
    expect_known_raster(table, query);
    expect_known_rate(query);
    std::vector<StorageRate> rates;
    for (const Codec& codec : table.codecs)
        for (const table::Scanning& system : table.scannings)
            if ((query.codec == nullptr || query.codec == &codec) &&
                (query.system == nullptr || query.system == &system))
                add_rates(table, query, codec, system, rates);
    if (rates.empty())
        throw InputError("--system " + (query.system == nullptr ? std::string("any") : query.system->id),
                         "the table has no raster of it to store", "use 525/60 or 625/50");
    return rates;
}

Bounded stored_bytes(const StorageRate& rate, const Bounded& seconds) {
    const quantity::Rational frames = rate.system->frame_rate();
    const auto bytes = [&](double frame, double time) {
        // The ratio's denominator divides last: whole seconds of whole frames stay whole.
        return frame * time * static_cast<double>(frames.numerator()) / static_cast<double>(frames.denominator()) +
               rate.sound_bytes_per_s * time;
    };
    return {bytes(rate.frame_bytes.value, seconds.value), bytes(rate.frame_bytes.low, seconds.low),
            bytes(rate.frame_bytes.high, seconds.high)};
}

std::vector<StoredStretch> stored_tapes(const table::Table& table, const std::vector<RunningTime>& tapes,
                                        const StorageQuery& query) {
    std::vector<StoredStretch> stretches;
    std::string left_out;
    for (const RunningTime& tape : tapes) {
        StorageQuery of_system = query;
        of_system.system = table.find_scanning(tape.mode->system);
        if (std::ranges::find(table.rasters, tape.mode->system, &table::Raster::scanning) != table.rasters.end())
            stretches.push_back({tape.seconds, tape, storage_rates(table, of_system)});
        else
            left_out = tape.mode->system;
    }
    if (stretches.empty())
        throw InputError("storage",
                         left_out.empty() ? "no tape of the table fits all of these"
                                          : "the table has no raster of " + left_out + " to store",
                         left_out.empty() ? "leave out --mode or --system, or give --hours"
                                          : "give --hours and a --system of 525/60 or 625/50");
    return stretches;
}

double largest_container_share(const table::Table& table, const std::vector<StorageRate>& rates) {
    double largest = 0;
    for (const table::Container& container : table.containers)
        for (const StorageRate& rate : rates) {
            const double sound = rate.sound_bytes_per_s / rate.system->frame_rate().value();
            largest = std::max(largest,
                               number_of(container.facts, "frame_overhead", "bytes") / (rate.frame_bytes.low + sound));
        }
    return largest;
}

Working storage_working(const StorageRate& rate) {
    const Bounded hour = stored_bytes(rate, exactly(seconds_per_hour));
    const quantity::Rational frames = rate.system->frame_rate();
    Step whole{rate.codec->name + ", an hour on " + (rate.raster == nullptr ? rate.system->id : rate.raster->id),
               "B = (F f + A) 3600",
               fmt::format("({:.0f} × {} + {:.0f}) × 3600", rate.frame_bytes.value, quantity::to_string(frames),
                           rate.sound_bytes_per_s),
               fmt::format("{:.0f} bytes", hour.value),
               {fact_given("2 f", "fields a second, two a frame", *rate.system->facts.known("field_rate")),
                {"A", "bytes of sound a second", fmt::format("{:.0f}", rate.sound_bytes_per_s), nullptr,
                 rate.sound_bytes_per_s > 0 ? "rate × bits / 8 × channels" : "none beside the picture"}},
               "plain arithmetic"};
    return {frame_step(rate), std::move(whole)};
}

}  // namespace guardband::calc
