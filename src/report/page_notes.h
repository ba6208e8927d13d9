#pragma once

#include <string>
#include <vector>

#include "table/table.h"

namespace guardband::report {

/// What stands behind a value on a page, as a short mark: a source by its number, a lesser standing by a letter, a
/// remark by a letter in brackets.
struct Mark {
    enum class Kind { Source, Standing, Remark };

    Kind kind = Kind::Source;
    std::string label;  ///< `3`; `M`, `C`, `P`; `a`
};

/// `[3]`, `[M]`, `(a)`.
std::string to_string(const Mark& mark);

/// Numbers the sources in the order in which a page cites them and gathers its remarks, each once.
class PageNotes {
public:
    /// A source together with the place in it that was cited.
    struct CitedSource {
        const table::Source* source;
        std::string where;
        std::size_t first;  ///< number of the note that cites the same source first; its own where it is that one
    };
    struct LetterMeaning {
        std::string label, meaning;
    };

    explicit PageNotes(const table::Table& table) : table_(table) {}

    /// The marks of a known fact: its source or standing, and a remark where the file has a note or other sources say
    /// otherwise.
    std::vector<Mark> cite(const table::Fact& fact);
    /// The marks without the remark: for what stands in a remark itself.
    std::vector<Mark> cite_origin(const table::Fact& fact);

    const std::vector<CitedSource>& sources() const { return sources_; }
    /// `also 58 µm [2]: printed beside a 625/50 speed`, in the order of their letters.
    const std::vector<std::string>& remarks() const { return remarks_; }
    /// The letters of standings that the page uses, and what they mean.
    std::vector<LetterMeaning> standings() const;

private:
    std::string remark_on(const table::Fact& fact);
    std::string note_of(const table::Fact& fact);

    const table::Table& table_;
    std::vector<CitedSource> sources_;
    std::vector<std::string> remarks_, places_to_check_;
    bool from_memory_ = false, computed_ = false, common_practice_ = false;
};

/// The n-th letter of remarks: a … z, then aa, ab …
std::string remark_letter(std::size_t index);

}  // namespace guardband::report
