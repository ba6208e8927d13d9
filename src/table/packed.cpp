#include "table/packed.h"

#include <concepts>
#include <cstdint>
#include <cstring>
#include <type_traits>

#include "quantity/errors.h"

namespace guardband::table {
namespace {

using quantity::Rational;
using quantity::Unit;

template <typename T>
concept Plain = std::is_arithmetic_v<T> || std::is_enum_v<T>;

class Writer {
public:
    static constexpr bool writes = true;

    template <Plain T>
    void operator()(const T& value) {
        bytes_.append(reinterpret_cast<const char*>(&value), sizeof value);
    }
    void operator()(const std::string& text) {
        (*this)(static_cast<std::uint32_t>(text.size()));
        bytes_ += text;
    }
    void operator()(const Rational& ratio) { (*this)(ratio.numerator()), (*this)(ratio.denominator()); }
    void operator()(const Unit* unit) { (*this)(static_cast<std::uint32_t>(unit - quantity::all_units().data())); }

    std::string bytes() && { return std::move(bytes_); }

private:
    std::string bytes_;
};

class Reader {
public:
    static constexpr bool writes = false;
    explicit Reader(std::string_view bytes) : bytes_(bytes) {}

    template <Plain T>
    void operator()(T& value) {
        std::memcpy(&value, take(sizeof value).data(), sizeof value);
    }
    void operator()(std::string& text) { text = take(next<std::uint32_t>()); }
    void operator()(Rational& ratio) {
        const auto numerator = next<std::int64_t>();
        ratio = Rational(numerator, next<std::int64_t>());
    }
    void operator()(const Unit*& unit) { unit = &quantity::all_units()[next<std::uint32_t>()]; }

    template <typename T>
    T next() {
        T value{};
        (*this)(value);
        return value;
    }
    bool at_end() const { return bytes_.empty(); }

private:
    std::string_view take(std::size_t count) {
        if (count > bytes_.size()) throw quantity::DomainError("the built-in table is cut short");
        const std::string_view taken = bytes_.substr(0, count);
        bytes_.remove_prefix(count);
        return taken;
    }

    std::string_view bytes_;
};

// One function per type names its members; the same one packs and unpacks, so that the two can't drift apart.

template <typename Archive, typename T>
void walk(Archive& archive, std::optional<T>& value);
template <typename Archive, typename T>
void walk(Archive& archive, std::vector<T>& values);
template <typename Archive>
void walk(Archive& archive, Facts& facts);

template <typename Archive, typename T>
requires std::invocable<Archive&, T&>
void walk(Archive& archive, T& value) { archive(value); }

template <typename Archive, typename... Members>
void walk_all(Archive& archive, Members&... members) {
    (walk(archive, members), ...);
}

template <typename Archive>
void walk(Archive& a, Fact& f) {
    walk_all(a, f.key, f.printed, f.value, f.exact, f.unit, f.low, f.high, f.unknown, f.source, f.where, f.standing,
             f.note, f.from, f.disagrees, f.why, f.also, f.inherited_from);
}
template <typename Archive>
void walk(Archive& a, Source& s) {
    walk_all(a, s.id, s.title, s.year, s.kind, s.seen, s.link, s.note);
}
template <typename Archive>
void walk(Archive& a, Scanning& s) {
    walk_all(a, s.id, s.name, s.aliases, s.facts);
}
template <typename Archive>
void walk(Archive& a, Raster& r) {
    walk_all(a, r.id, r.scanning, r.facts);
}
template <typename Archive>
void walk(Archive& a, Colour& c) {
    walk_all(a, c.id, c.name, c.scanning, c.aliases, c.facts);
}
template <typename Archive>
void walk(Archive& a, Transmission& t) {
    walk_all(a, t.id, t.name, t.scanning, t.aliases, t.colours, t.facts);
}
template <typename Archive>
void walk(Archive& a, Screen& s) {
    walk_all(a, s.id, s.name, s.facts);
}
template <typename Archive>
void walk(Archive& a, Shell& s) {
    walk_all(a, s.id, s.name, s.facts);
}
template <typename Archive>
void walk(Archive& a, FormatSystem& s) {
    walk_all(a, s.id, s.facts);
}
template <typename Archive>
void walk(Archive& a, Mode& m) {
    walk_all(a, m.system, m.id, m.aliases, m.facts);
}
template <typename Archive>
void walk(Archive& a, PlayingTime& t) {
    walk_all(a, t.system, t.mode, t.time);
}
template <typename Archive>
void walk(Archive& a, Grade& g) {
    walk_all(a, g.id, g.aliases, g.shell, g.label_system, g.facts, g.playing_times);
}
template <typename Archive>
void walk(Archive& a, TapeFormat& f) {
    walk_all(a, f.id, f.name, f.family, f.based_on, f.aliases, f.plays, f.grades_of, f.facts, f.tape, f.drum, f.shells,
             f.systems, f.modes, f.grades, f.file);
}
template <typename Archive>
void walk(Archive& a, LimitRule& l) {
    walk_all(a, l.figure, l.scanning, l.format, l.condition, l.unless, l.setting, l.low, l.high, l.text,
             l.equals_figure, l.source, l.where, l.note, l.standing);
}
template <typename Archive>
void walk(Archive& a, Caution& c) {
    walk_all(a, c.id, c.title, c.text, c.source, c.where, c.standing);
}
template <typename Archive>
void walk(Archive& a, CodecSystem& s) {
    walk_all(a, s.id, s.facts);
}
template <typename Archive>
void walk(Archive& a, CodecPicture& p) {
    walk_all(a, p.id, p.facts);
}
template <typename Archive>
void walk(Archive& a, Codec& c) {
    walk_all(a, c.id, c.name, c.aliases, c.coding, c.facts, c.systems, c.pictures);
}
template <typename Archive>
void walk(Archive& a, Container& c) {
    walk_all(a, c.id, c.name, c.aliases, c.facts);
}
template <typename Archive>
void walk(Archive& a, EvidenceKind& k) {
    walk_all(a, k.id, k.title, k.measures, k.how, k.needs, k.needs_machine, k.facts, k.source, k.where, k.standing);
}
template <typename Archive>
void walk(Archive& a, Region& r) {
    walk_all(a, r.id, r.name, r.systems, r.colours, r.source, r.where, r.standing);
}
template <typename Archive>
void walk(Archive& a, Trust& t) {
    walk_all(a, t.id, t.facts);
}
template <typename Archive>
void walk(Archive& a, Edition& e) {
    walk_all(a, e.version, e.changed, e.additions);
}
template <typename Archive>
void walk(Archive& a, Table& t) {
    walk_all(a, t.edition, t.sources, t.scannings, t.rasters, t.colours, t.transmissions, t.screens, t.formats,
             t.limits, t.cautions, t.codecs, t.containers, t.evidence, t.regions, t.tapes_at_large, t.trusts);
}

template <typename Archive, typename T>
void walk(Archive& archive, std::optional<T>& value) {
    bool is_there = value.has_value();
    archive(is_there);
    if (!is_there) return;
    if constexpr (!Archive::writes) value.emplace();
    walk(archive, *value);
}

template <typename Archive, typename T>
void walk(Archive& archive, std::vector<T>& values) {
    auto count = static_cast<std::uint32_t>(values.size());
    archive(count);
    if constexpr (!Archive::writes) values.resize(count);
    for (T& value : values) walk(archive, value);
}

template <typename Archive>
void walk(Archive& archive, Facts& facts) {
    if constexpr (Archive::writes) {
        std::vector<Fact> all = facts.all();
        walk(archive, all);
    } else {
        std::vector<Fact> all;
        walk(archive, all);
        facts = Facts(std::move(all));
    }
}

}  // namespace

std::string pack(const Table& table) {
    Writer writer;
    Table copy = table;  // the walk is written for both ways and so wants what it could change
    walk(writer, copy);
    return std::move(writer).bytes();
}

Table unpack(std::string_view bytes) {
    Reader reader(bytes);
    Table table;
    walk(reader, table);
    return table;
}

}  // namespace guardband::table
