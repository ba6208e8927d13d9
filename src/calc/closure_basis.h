#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "table/table.h"

namespace guardband::calc {

/// Where the keys that a computed fact names in its `from` are looked up: the mode and the grade it stands in, and what
/// these stand in.
class Scope {
public:
    /// @param mode, grade  may be nullptr
    Scope(const table::Table& table, const table::TapeFormat& format, const table::Mode* mode,
          const table::Grade* grade)
        : table_(table), format_(format), mode_(mode), grade_(grade) {}

    /// Every known fact that goes by this key here: a mode's own and the one of its system that it overrides, since the
    /// file does not say which of them a computation took; all the playing times of a grade.
    std::vector<const table::Fact*> find(std::string_view key) const;

private:
    std::vector<const table::Facts*> sections() const;

    const table::Table& table_;
    const table::TapeFormat& format_;
    const table::Mode* mode_;
    const table::Grade* grade_;
};

/// The figures of one side of a closure.
struct Side {
    std::vector<const table::Fact*> facts{};  ///< of the tape format
    std::vector<const table::Fact*> given{};  ///< of the TV systems: taken as they are, but no proof either
};

/// Why a closure proves nothing: one of its figures was computed from the other side, or does not say from what. Empty
/// if it does prove something.
std::string circularity(const Side& printed, const Side& derived, const Scope& scope);

/// The weakest standing among the figures of both sides, each computed one replaced by what it was computed from;
/// nothing if there are none.
std::optional<table::Standing> weakest_standing(const Side& printed, const Side& derived, const Scope& scope);

}  // namespace guardband::calc
