#pragma once

#include <optional>
#include <string>
#include <vector>

#include "identify/kinds.h"
#include "table/document.h"

namespace guardband::identify {

/// One thing that was observed of a tape.
struct Observation {
    Kind kind{};
    std::string text;        ///< as it was given; the word itself, for a word
    std::string context;     ///< as it was given after @; empty if nothing was
    double value = 0;        ///< in the kind's unit, above 0
    double uncertainty = 0;  ///< standard, in the kind's unit: as given, else the kind's usual scatter or the rounding
                             ///< of the digits, whichever is larger
    std::optional<double> played_mm_s;  ///< speed of the machine that played, where the context gives one
    double played_relative = 0;         ///< its relative standard uncertainty
    double diameter_mm = 0;             ///< of the pack, for a reel's period

    double log_value() const;
    /// Of the reading alone: relative, with what the context is uncertain by.
    double log_variance() const;
};

/// Reads an observation.
/// @param kind     id of the kind
/// @param value    as people write it: `25.0`, `25.0±0.1`, `1:02:30`; a word for kinds of words
/// @param context  what stands behind @; empty if nothing does
/// @param input    how an error names the place
/// @throws InputError
Observation read_observation(const table::Table& table, const std::string& kind, const std::string& value,
                             const std::string& context, const std::string& input);

/// `KIND=VALUE` or `KIND=VALUE@CONTEXT`. @throws InputError
Observation parse_observation(const table::Table& table, const std::string& text);

/// The observations of an evidence file: `[[observation]]` with `kind`, `value`, and where needed `at` and `note`.
/// @throws InputError that names file, line and key
std::vector<Observation> read_evidence(const table::Table& table, const table::Document& document);

}  // namespace guardband::identify
