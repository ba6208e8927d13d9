// Levels, times, time code, resolution, speeds and storage against what sources print.
#include <gmock/gmock.h>

#include "calc/conversion.h"
#include "calc/storage.h"
#include "published/check.h"

namespace guardband {
namespace {

/// A number of the answer beside its value, such as `pitch_cents`.
double number_of(const calc::Conversion& answer, const std::string& key) {
    for (const auto& [name, value] : answer.also)
        if (name == key) return value;
    ADD_FAILURE() << "the answer has no " << key;
    return 0;
}

}  // namespace

bool holds_conversion(const Check& c) {
    if (c.what != "conversion") return false;
    calc::ConversionQuery query{c.given.value, c.given.from, c.given.to, c.given.system, c.given.rate, c.given.fps};
    if (c.given.setup == "kept") query.setup = calc::CapturedSetup::Kept;
    if (c.given.signal == "composite") query.signal = calc::CodedSignal::Composite;
    const calc::Conversion answer = calc::conversion(built_in(), query);
    if (!answer.text.empty()) {
        EXPECT_EQ(answer.text, c.expect);
        return true;
    }
    const double got = c.given.key.empty() ? answer.value : number_of(answer, c.given.key);
    if (!c.disagrees.empty()) {
        EXPECT_GT(std::abs(got - std::stod(c.expect)), allowance(c)) << "agrees now: " << c.disagrees;
        return true;
    }
    EXPECT_NEAR(got, std::stod(c.expect), allowance(c) + 1e-12 * std::abs(got));
    return true;
}

bool holds_storage(const Check& c) {
    if (c.what != "storage") return false;
    calc::StorageQuery query{&built_in().codec(c.given.codec, c.label), &built_in().scanning(c.given.system, c.label),
                             c.given.raster, std::nullopt};
    if (!c.given.sound_bits.empty()) query.sound = calc::StoredSound{.bits = std::stoi(c.given.sound_bits)};
    const auto rates = calc::storage_rates(built_in(), query);
    EXPECT_EQ(rates.size(), 1U) << "name one raster";
    const double hour = calc::stored_bytes(rates.front(), {3600, 3600, 3600}).value;
    const double got = c.given.key == "frame"    ? rates.front().frame_bytes.value
                       : c.given.key == "sound"  ? rates.front().sound_bytes_per_s
                       : c.given.key == "second" ? hour / 3600 / quantity::unit_named(c.unit).to_base
                                                 : hour / quantity::unit_named(c.unit).to_base;
    EXPECT_NEAR(got, std::stod(c.expect), allowance(c) + 1e-12 * got);
    return true;
}

}  // namespace guardband
