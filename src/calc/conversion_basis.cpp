#include "calc/conversion_basis.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "calc/frame_rate_change.h"
#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::Dimension;
using quantity::InputError;

template <typename Entry>
std::string ids_of(const std::vector<const Entry*>& entries) {
    std::vector<std::string> ids;
    for (const Entry* entry : entries) ids.push_back(entry->id);
    return fmt::format("{}", fmt::join(ids, ", "));
}

std::string rate_text(const quantity::Rational& rate) {
    return rate.denominator() == 1 ? quantity::to_string(rate)
                                   : fmt::format("{:.5g} ({})", rate.value(), quantity::to_string(rate));
}

}  // namespace

std::string plain_number(double value) {
    constexpr double exactly_shown = 1e15;
    if (std::abs(value) < exactly_shown && value == std::round(value)) return fmt::format("{:.0f}", value);
    const double size = std::abs(value);
    const int before_point = size < 1 ? 0 : static_cast<int>(std::log10(size)) + 1;
    return fmt::format("{:.{}g}", value, std::clamp(before_point + 3, 6, 15));
}

ConversionBasis::ConversionBasis(const table::Table& table, const ConversionQuery& query)
    : table_(table), query_(query) {
    if (query.system.empty()) return;
    colour_ = table.find_colour(query.system);
    scanning_ = colour_ == nullptr ? &table.scanning(query.system, "--system") : table.find_scanning(colour_->scanning);
}

void ConversionBasis::say(const std::string& word) {
    if (std::ranges::find(words_, word) == words_.end()) words_.push_back(word);
}

std::string ConversionBasis::words() const { return fmt::format("{}", fmt::join(words_, ", ")); }

void ConversionBasis::use(const std::string& symbol, const std::string& meaning, const std::string& value,
                          const table::Fact* fact, const std::string& origin) {
    if (std::ranges::find(givens_, symbol, &Given::symbol) != givens_.end()) return;
    givens_.push_back({symbol, meaning, value, fact, origin});
    uses_table_ = uses_table_ || fact != nullptr;
}

InputError ConversionBasis::no_system(const std::string& what) const {
    std::vector<const table::Colour*> all;
    for (const table::Colour& colour : table_.colours) all.push_back(&colour);
    return {"--system", "is missing: " + what + " depend on the system",
            "give one of " + ids_of(all) + " or a scanning standard such as 405/50"};
}

std::vector<const table::Colour*> ConversionBasis::colours() const {
    if (colour_ != nullptr) return {colour_};
    std::vector<const table::Colour*> of_scanning;
    for (const table::Colour& colour : table_.colours)
        if (scanning_ != nullptr && colour.scanning == scanning_->id) of_scanning.push_back(&colour);
    return of_scanning;
}

/// Those of `colours` that have codes of the signal wanted.
std::vector<const table::Colour*> ConversionBasis::coded_colours() const {
    const auto has = [this](const table::Colour& colour) { return has_codes(table_, colour, query_.signal); };
    std::vector<const table::Colour*> coded = colours();
    std::erase_if(coded, [&](const table::Colour* colour) { return !has(*colour); });
    if (!coded.empty() || query_.signal == CodedSignal::Luma) return coded;
    std::vector<const table::Colour*> known;
    for (const table::Colour& colour : table_.colours)
        if (has(colour)) known.push_back(&colour);
    throw InputError("--composite", "the table knows no composite samples of " + query_.system,
                     "it knows those of " + ids_of(known));
}

const table::Scanning& ConversionBasis::scanning() {
    if (scanning_ == nullptr) throw no_system("the lengths of lines");
    say(colour_ == nullptr ? scanning_->id : colour_->id);
    return *scanning_;
}

const table::Fact& ConversionBasis::scanning_fact(const std::string& key, const std::string& what) {
    const table::Fact* fact = scanning().facts.known(key);
    if (fact == nullptr || !fact->is_number())
        throw InputError("--system " + query_.system, "the table does not know its " + what,
                         "`guardband systems " + scanning_->id + "` shows what it knows");
    return *fact;
}

LevelScale ConversionBasis::levels() {
    if (scanning_ == nullptr) throw no_system("signal levels");
    const std::vector<const table::Colour*> known = coded_colours();
    if (known.empty())
        throw InputError("--system " + query_.system, "the table knows no signal levels of it",
                         "name a colour system, such as PAL");
    LevelScale scale = level_scale(table_, *known.front(), query_.setup, query_.signal);
    for (const table::Colour* other : known)
        if (!same_levels(scale, level_scale(table_, *other, query_.setup, query_.signal)))
            throw InputError("--system " + query_.system, "its colour systems have different levels",
                             "name one of " + ids_of(known));
    say(colour_ == nullptr ? scanning_->id : colour_->id);
    if (scale.signal == CodedSignal::Composite) say("composite samples");
    if (scale.setup_ire != 0) say(scale.setup == CapturedSetup::Kept ? "set-up kept" : "set-up removed");
    return scale;
}

double ConversionBasis::line_hz() {
    const table::Fact& fact = scanning_fact("line_rate", "line rate");
    use("f_H", "line rate", plain_number(fact.in("Hz")) + " Hz", &fact);
    return fact.in("Hz");
}

double ConversionBasis::given_sampling_hz() {
    const auto rate = quantity::parse_quantity(query_.sampling_rate, quantity::unit_named("MHz"), "--rate");
    if (!(rate.value > 0))
        throw InputError("--rate", "\"" + query_.sampling_rate + "\" is no sampling rate", "give one above 0 MHz");
    use("f_s", "sampling rate", plain_number(rate.in("MHz")) + " MHz", nullptr, "given");
    say(plain_number(rate.in("MHz")) + " MHz");
    return rate.in("Hz");
}

double ConversionBasis::use_sampling_rate(const table::Fact& fact) {
    use("f_s", "sampling rate", plain_number(fact.in("MHz")) + " MHz", &fact);
    say(plain_number(fact.in("MHz")) + " MHz");
    return fact.in("Hz");
}

const table::Fact& ConversionBasis::composite_sampling_rate() const {
    if (scanning_ == nullptr) throw no_system("composite samples");
    const std::vector<const table::Colour*> known = coded_colours();
    const auto rate_of = [](const table::Colour* colour) { return colour->facts.known("composite_sampling_rate"); };
    const table::Fact* found = rate_of(known.front());
    for (const table::Colour* other : known)
        if (found == nullptr || rate_of(other) == nullptr || rate_of(other)->in("Hz") != found->in("Hz"))
            throw InputError("--system " + query_.system, "its colour systems are sampled at different rates",
                             "name one of " + ids_of(known));
    return *found;
}

double ConversionBasis::sampling_hz() {
    if (!query_.sampling_rate.empty()) return given_sampling_hz();
    if (query_.signal == CodedSignal::Composite) return use_sampling_rate(composite_sampling_rate());
    const table::Fact* found = nullptr;
    for (const table::Raster& raster : table_.rasters) {
        if (scanning_ != nullptr && raster.scanning != scanning_->id) continue;
        const table::Fact* fact = raster.facts.known("sampling_rate");
        if (found != nullptr && fact != nullptr && fact->in("Hz") != found->in("Hz"))
            throw InputError("--rate", "is missing: the rasters differ in their sampling rate", "give it, in MHz");
        found = fact;
    }
    if (found == nullptr)
        throw InputError("--rate", "is missing: the table has no raster of " + scanning_->id, "give it, in MHz");
    return use_sampling_rate(*found);
}

double ConversionBasis::subcarrier_hz() {
    if (scanning_ == nullptr) throw no_system("degrees of the subcarrier");
    const table::Fact* found = nullptr;
    for (const table::Colour* colour : colours()) {
        const table::Fact* fact = colour->facts.known("subcarrier");
        if (found != nullptr && fact != nullptr && fact->in("Hz") != found->in("Hz"))
            throw InputError("--system " + query_.system, "its colour systems have different subcarriers",
                             "name one of " + ids_of(colours()));
        if (fact != nullptr) found = fact;
    }
    if (found == nullptr)
        throw InputError("--system " + query_.system, "has no subcarrier of fixed frequency to count degrees of",
                         "name NTSC, PAL or another that has");
    say(colour_ == nullptr ? scanning_->id : colour_->id);
    use("f_sc", "subcarrier", fmt::format("{:.10g} Hz", found->in("Hz")), found);
    return found->in("Hz");
}

quantity::Rational ConversionBasis::frame_rate() {
    if (!query_.frame_rate.empty()) {
        const quantity::Rational rate = frame_rate_named(query_.frame_rate, "--fps");
        use("f", "frame rate", rate_text(rate) + " frames/s", nullptr, "given");
        say(rate_text(rate) + " frames/s");
        return rate;
    }
    if (scanning_ == nullptr)
        throw InputError("--fps", "is missing: frames depend on the frame rate",
                         "give it, such as --fps 29.97, or a --system");
    const quantity::Rational rate = scanning_->frame_rate();
    use("f_V", "field rate, two fields a frame", rate_text(scanning_->field_rate()) + " Hz",
        scanning_->facts.known("field_rate"));
    say(scanning_->id);
    say(rate_text(rate) + " frames/s");
    return rate;
}

double ConversionBasis::per_second(Dimension dimension) {
    switch (dimension) {
        case Dimension::Samples:
            return *units_per_second({{}, sampling_hz(), {}, {}}, dimension);
        case Dimension::Lines:
            return *units_per_second({line_hz(), {}, {}, {}}, dimension);
        case Dimension::Angle:
            return *units_per_second({{}, {}, subcarrier_hz(), {}}, dimension);
        case Dimension::Frames:
            return *units_per_second({{}, {}, {}, frame_rate().value()}, dimension);
        default:
            return 1;
    }
}

TimeCodeRate ConversionBasis::time_code(bool drop) {
    const quantity::Rational rate = frame_rate();
    const std::string input = query_.frame_rate.empty() ? "--system " + query_.system : "--fps " + query_.frame_rate;
    if (drop && !has_drop_frame(rate))
        throw InputError(input, "there is no drop-frame count at " + rate_text(rate) + " frames/s",
                         "write a colon before the frames");
    try {
        return time_code_rate(rate, drop);
    } catch (const quantity::DomainError&) {
        throw InputError(input, "no time code counts " + rate_text(rate) + " frames/s",
                         "use 23.976, 24, 25, 29.97, 30, 50, 59.94 or 60");
    }
}

}  // namespace guardband::calc
