#include "calc/levels.h"

#include <algorithm>

#include "quantity/errors.h"

namespace guardband::calc {
namespace {

constexpr double steps_of_10_bits = 4;  // in one step of 8 bits
// Codes kept for timing references, ITU-R BT.601: in steps of 10 bits, the first and the last that a picture may have.
// Composite samples keep the same ones (from memory, check at SMPTE 244M).
constexpr double lowest_code10 = 4, highest_code10 = 1019;
// What rounding may do to a level or a code that stands exactly on a boundary.
constexpr double slack_mv = 1e-6, slack_code10 = 1e-8;

double number_of(const table::Facts& facts, std::string_view key, std::string_view unit) {
    const table::Fact* fact = facts.known(key);
    if (fact == nullptr) throw quantity::DomainError("the table has no " + std::string(key));
    return fact->in(unit);
}

/// The table's codes of the two levels between which codes are straight; nullptr where it knows none.
struct CodeFacts {
    const table::Fact *zero = nullptr, *white = nullptr;
};

CodeFacts code_facts(const table::Table& table, const table::Colour& colour, CodedSignal signal) {
    if (signal == CodedSignal::Composite)
        return {colour.facts.known("composite_blanking_code"), colour.facts.known("composite_white_code")};
    const auto raster = std::ranges::find(table.rasters, colour.scanning, &table::Raster::scanning);
    if (raster == table.rasters.end()) return {};
    return {raster->facts.known("black_code"), raster->facts.known("white_code")};
}

}  // namespace

bool has_codes(const table::Table& table, const table::Colour& colour, CodedSignal signal) {
    const CodeFacts codes = code_facts(table, colour, signal);
    return codes.zero != nullptr && codes.white != nullptr;
}

LevelScale level_scale(const table::Table& table, const table::Colour& colour, CapturedSetup setup,
                       CodedSignal signal) {
    const CodeFacts codes = code_facts(table, colour, signal);
    if (codes.zero == nullptr || codes.white == nullptr) throw quantity::DomainError("no codes of " + colour.id);
    return {&colour,
            codes.zero,
            codes.white,
            number_of(colour.facts, "white_level", "mV"),
            number_of(colour.facts, "setup_level", "IRE"),
            number_of(colour.facts, "sync_level", "mV"),
            codes.zero->in(""),
            codes.white->in(""),
            signal == CodedSignal::Composite ? CapturedSetup::Kept : setup,
            signal};
}

bool same_levels(const LevelScale& a, const LevelScale& b) {
    return a.white_mv == b.white_mv && a.setup_ire == b.setup_ire && a.sync_mv == b.sync_mv &&
           a.zero_code == b.zero_code && a.white_code == b.white_code;
}

double mv_of_ire(const LevelScale& scale, double ire) { return ire * scale.white_mv / 100; }

double ire_of_mv(const LevelScale& scale, double mv) { return mv * 100 / scale.white_mv; }

double code10_of_mv(const LevelScale& scale, double mv) {
    const double codes = scale.white_code - scale.zero_code;
    return steps_of_10_bits * (scale.zero_code + codes * (mv - scale.zero_mv()) / (scale.white_mv - scale.zero_mv()));
}

double mv_of_code10(const LevelScale& scale, double code10) {
    const double codes = scale.white_code - scale.zero_code;
    return scale.zero_mv() + (code10 / steps_of_10_bits - scale.zero_code) * (scale.white_mv - scale.zero_mv()) / codes;
}

std::string level_remark(const LevelScale& scale, double mv, bool as_code) {
    const double code10 = code10_of_mv(scale, mv);
    if (mv < scale.sync_mv - slack_mv) return "Below the sync tip: no such level in the signal";
    if (as_code && (code10 < lowest_code10 - slack_code10 || code10 > highest_code10 + slack_code10))
        return "No code carries it: those left over are kept for timing";
    if (mv < scale.black_mv() - slack_mv) return "Below black";
    if (mv > scale.white_mv + slack_mv) return "Above white";
    return "";
}

}  // namespace guardband::calc
