#pragma once

#include <optional>
#include <span>
#include <string_view>

namespace guardband::table {

/// The sections of the table's files in which facts stand.
enum class SectionKind {
    Scanning,
    Raster,
    Colour,
    Transmission,
    Screen,
    Format,
    Tape,
    Shell,
    Drum,
    System,
    Mode,
    Grade,
    Codec,
    CodecSystem,
    CodecPicture,
    Container,
    Evidence,
    TapesAtLarge,
    Trust
};

/// `[tape]`, `[[mode]]` …, as the files write it.
std::string_view to_string(SectionKind section);

/// What a fact of one key must look like.
struct KeyRule {
    enum class Kind { Number, Count, Text };

    SectionKind section;
    std::string_view key;
    Kind kind;
    std::string_view unit;   ///< the unit it is shown in; any unit of the same dimension may be written. Empty for bare
                             ///< numbers and texts
    double low, high;        ///< impossible outside, in `unit`
    bool required;           ///< must be there, if only as `unknown = "…"`
    std::string_view title;  ///< for people
};

/// All rules, in the order in which people are shown the facts.
std::span<const KeyRule> key_rules();

/// The rule of a key in a section, or nullptr. A mode may carry the keys of its system and of the drum, to override
/// them.
const KeyRule* find_rule(SectionKind section, std::string_view key);

}  // namespace guardband::table
