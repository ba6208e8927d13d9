#include "table/table.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "quantity/errors.h"
#include "table/suggestion.h"

namespace guardband::table {
namespace {

using quantity::InputError;
using quantity::Rational;

Rational exact_of(const Facts& facts, std::string_view key) {
    const Fact* fact = facts.known(key);
    if (fact == nullptr || !fact->exact) throw quantity::DomainError("the table has no exact " + std::string(key));
    return *fact->exact;
}

int count_of(const Facts& facts, std::string_view key) {
    const Fact* fact = facts.known(key);
    if (fact == nullptr || !fact->value) throw quantity::DomainError("the table has no " + std::string(key));
    return static_cast<int>(std::lround(*fact->value));
}

template <typename Entry>
bool goes_by(const Entry& entry, std::string_view name) {
    if (same_name(entry.id, name)) return true;
    if constexpr (requires { entry.name; })
        if (same_name(entry.name, name)) return true;
    if constexpr (requires { entry.aliases; })
        return std::ranges::any_of(entry.aliases, [&](const std::string& alias) { return same_name(alias, name); });
    return false;
}

/// By id first, so that one entry's alias never hides another's id.
template <typename Entry>
const Entry* find_in(const std::vector<Entry>& entries, std::string_view name) {
    for (const Entry& entry : entries)
        if (same_name(entry.id, name)) return &entry;
    for (const Entry& entry : entries)
        if (goes_by(entry, name)) return &entry;
    return nullptr;
}

template <typename Entry>
std::vector<std::string> names_of(const std::vector<Entry>& entries) {
    std::vector<std::string> names;
    for (const Entry& entry : entries) {
        names.push_back(entry.id);
        names.insert(names.end(), entry.aliases.begin(), entry.aliases.end());
    }
    return names;
}

std::vector<std::string> addresses_of(const TapeFormat& format) {
    std::vector<std::string> addresses;
    for (const Mode& mode : format.modes) addresses.push_back(address_of(format, mode));
    return addresses;
}

std::string joined(const std::vector<std::string>& parts) {
    std::string text;
    for (const std::string& part : parts) text += (text.empty() ? "" : ", ") + part;
    return text;
}

}  // namespace

Rational Scanning::lines() const { return exact_of(facts, "lines"); }
Rational Scanning::field_rate() const { return exact_of(facts, "field_rate"); }
Rational Scanning::frame_rate() const { return field_rate() / Rational(2); }
Rational Scanning::line_rate() const { return exact_of(facts, "line_rate"); }

int Raster::width() const { return count_of(facts, "width"); }
int Raster::height() const { return count_of(facts, "height"); }
int Raster::black_code() const { return count_of(facts, "black_code"); }
int Raster::white_code() const { return count_of(facts, "white_code"); }

std::string_view to_string(Coding coding) {
    constexpr std::array words{"uncompressed", "constant rate", "lossless", "lossy"};
    return words.at(static_cast<std::size_t>(coding));
}

double Screen::rate_hz() const {
    const Fact* fact = facts.known("refresh_rate");
    if (fact == nullptr) throw quantity::DomainError("the screen " + id + " has no refresh rate");
    return fact->in("Hz");
}

const FormatSystem* TapeFormat::find_system(std::string_view wanted) const {
    const auto found = std::ranges::find(systems, wanted, &FormatSystem::id);
    return found == systems.end() ? nullptr : &*found;
}

const Mode* TapeFormat::find_mode(std::string_view system, std::string_view id_or_alias) const {
    const auto found = std::ranges::find_if(
        modes, [&](const Mode& mode) { return mode.system == system && goes_by(mode, id_or_alias); });
    return found == modes.end() ? nullptr : &*found;
}

const Grade* TapeFormat::find_grade(std::string_view id_or_alias) const { return find_in(grades, id_or_alias); }

const Fact* TapeFormat::fact_in(const Mode& mode, std::string_view key) const {
    if (const Fact* own = mode.facts.find(key)) return own->is_known() ? own : nullptr;
    if (const FormatSystem* system = find_system(mode.system))
        if (const Fact* shared = system->facts.find(key)) return shared->is_known() ? shared : nullptr;
    return drum.known(key);
}

std::string address_of(const TapeFormat& format, const Mode& mode) {
    return format.id + ":" + mode.system + ":" + mode.id;
}

const std::vector<std::string>& limit_settings() {
    static const std::vector<std::string> settings{"studio", "transmission", "recorder"};
    return settings;
}

Table::Table() = default;
Table::Table(const Table&) = default;
Table::Table(Table&&) noexcept = default;
Table& Table::operator=(const Table&) = default;
Table& Table::operator=(Table&&) noexcept = default;
Table::~Table() = default;

const Source* Table::find_source(std::string_view id) const {
    const auto found = std::ranges::find(sources, id, &Source::id);
    return found == sources.end() ? nullptr : &*found;
}

const Scanning* Table::find_scanning(std::string_view name) const { return find_in(scannings, name); }
const Colour* Table::find_colour(std::string_view name) const { return find_in(colours, name); }
const Transmission* Table::find_transmission(std::string_view name) const { return find_in(transmissions, name); }
const TapeFormat* Table::find_format(std::string_view name) const { return find_in(formats, name); }

const Raster* Table::find_raster(int width, int height) const {
    const auto found = std::ranges::find_if(
        rasters, [&](const Raster& raster) { return raster.width() == width && raster.height() == height; });
    return found == rasters.end() ? nullptr : &*found;
}

const Scanning& Table::scanning(std::string_view name, const std::string& input) const {
    if (const Scanning* found = find_scanning(name)) return *found;
    // A colour system stands for its scanning standard too: "PAL-M" is a way to say 525/60.
    if (const Colour* colour = find_colour(name)) return *find_scanning(colour->scanning);
    const std::vector<std::string> known = names_of(scannings);
    throw InputError(input, "no TV system \"" + std::string(name) + "\"",
                     did_you_mean(name, known, "known are " + joined(known)));
}

const TapeFormat& Table::format(std::string_view name, const std::string& input) const {
    if (const TapeFormat* found = find_format(name)) return *found;
    throw InputError(input, "no tape format \"" + std::string(name) + "\"",
                     did_you_mean(name, names_of(formats), "`guardband formats` lists those it knows"));
}

const Codec& Table::codec(std::string_view name, const std::string& input) const {
    if (const Codec* found = find_in(codecs, name)) return *found;
    const std::vector<std::string> known = names_of(codecs);
    throw InputError(input, "no codec \"" + std::string(name) + "\"",
                     did_you_mean(name, known, "known are " + joined(known)));
}

std::vector<GradeOfFormat> Table::grades_in(const TapeFormat& format) const {
    std::vector<GradeOfFormat> all;
    for (const Grade& grade : format.grades) all.push_back({&format, &grade});
    for (const std::string& id : format.grades_of)
        if (const TapeFormat* other = find_format(id))
            for (const Grade& grade : other->grades) all.push_back({other, &grade});
    return all;
}

bool Table::is_or_is_based_on(const TapeFormat& format, const TapeFormat& base) const {
    const TapeFormat* ancestor = &format;
    while (ancestor != nullptr && ancestor != &base)
        ancestor = ancestor->based_on.empty() ? nullptr : find_format(ancestor->based_on);
    return ancestor == &base;
}

std::pair<const TapeFormat*, const Mode*> Table::at(std::string_view address, const std::string& input) const {
    const std::size_t first = address.find(':');
    const std::size_t last = address.rfind(':');
    if (first == std::string_view::npos || first == last)
        throw InputError(input, "\"" + std::string(address) + "\" is not the address of a mode",
                         "write FORMAT:SYSTEM:MODE, such as vhs:625/50:LP");
    const TapeFormat& tape = format(address.substr(0, first), input);
    const Scanning& system = scanning(address.substr(first + 1, last - first - 1), input);
    if (const Mode* mode = tape.find_mode(system.id, address.substr(last + 1))) return {&tape, mode};
    throw InputError(input,
                     tape.name + " has no mode \"" + std::string(address.substr(last + 1)) + "\" in " + system.id,
                     "it has " + joined(addresses_of(tape)));
}

}  // namespace guardband::table
