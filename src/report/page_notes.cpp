#include "report/page_notes.h"

#include <fmt/format.h>

#include <algorithm>

#include "report/fact_text.h"

namespace guardband::report {
namespace {

using table::Fact;
using table::Standing;

constexpr std::string_view check_at = "check at ";

/// The index of a value in a list to which it is added if it is not there.
template <typename T>
std::size_t index_in(std::vector<T>& list, const T& value) {
    const auto found = std::ranges::find(list, value);
    if (found != list.end()) return static_cast<std::size_t>(found - list.begin());
    list.push_back(value);
    return list.size() - 1;
}

std::vector<std::string> clauses_of(const std::string& note) {
    std::vector<std::string> clauses;
    for (std::size_t from = 0; from < note.size();) {
        const std::size_t end = std::min(note.find("; ", from), note.size());
        clauses.push_back(note.substr(from, end - from));
        from = end + 2;
    }
    return clauses;
}

std::string joined(const std::vector<std::string>& parts, std::string_view by) {
    return fmt::format("{}", fmt::join(parts, by));
}

}  // namespace

std::string to_string(const Mark& mark) {
    return mark.kind == Mark::Kind::Remark ? "(" + mark.label + ")" : "[" + mark.label + "]";
}

std::string remark_letter(std::size_t index) {
    std::string letters;
    for (std::size_t rest = index + 1; rest > 0; rest = (rest - 1) / 26)
        letters.insert(letters.begin(), static_cast<char>('a' + (rest - 1) % 26));
    return letters;
}

std::vector<Mark> PageNotes::cite_origin(const Fact& fact) {
    if (!fact.is_known()) return {};
    switch (fact.standing) {
        case Standing::FromMemory:
            from_memory_ = true;
            return {{Mark::Kind::Standing, "M"}};
        case Standing::Computed:
            computed_ = true;
            return {{Mark::Kind::Standing, "C"}};
        case Standing::CommonPractice:
            common_practice_ = true;
            return {{Mark::Kind::Standing, "P"}};
        case Standing::Standard:
        case Standing::Published:
            break;
    }
    const table::Source* source = table_.find_source(fact.source);
    const auto same = std::ranges::find_if(
        sources_, [&](const CitedSource& c) { return c.source == source && c.where == fact.where; });
    if (same != sources_.end()) return {{Mark::Kind::Source, std::to_string(same - sources_.begin() + 1)}};
    const auto first = std::ranges::find(sources_, source, &CitedSource::source);
    const std::size_t first_number = first == sources_.end() ? sources_.size() + 1 : first->first;
    sources_.push_back({source, fact.where, first_number});
    return {{Mark::Kind::Source, std::to_string(sources_.size())}};
}

std::vector<Mark> PageNotes::cite(const Fact& fact) {
    std::vector<Mark> marks = cite_origin(fact);
    if (const std::string remark = remark_on(fact); !remark.empty())
        marks.push_back({Mark::Kind::Remark, remark_letter(index_in(remarks_, remark))});
    return marks;
}

/// The note, without where a figure from memory should be checked: that is said once for the whole page.
std::string PageNotes::note_of(const Fact& fact) {
    std::vector<std::string> kept;
    for (const std::string& clause : clauses_of(fact.note)) {
        if (fact.standing == Standing::FromMemory && clause.starts_with(check_at))
            index_in(places_to_check_, clause.substr(check_at.size()));
        else
            kept.push_back(clause);
    }
    return joined(kept, "; ");
}

std::string PageNotes::remark_on(const Fact& fact) {
    std::vector<std::string> parts;
    if (const std::string note = note_of(fact); !note.empty()) parts.push_back(note);
    if (!fact.disagrees.empty()) parts.push_back("does not agree with other figures of the table: " + fact.disagrees);
    for (const Fact& other : fact.also) {
        std::string part = "also " + value_text_as_printed(other);
        for (const Mark& mark : cite_origin(other)) part += std::string(no_break) + to_string(mark);
        const std::string note = note_of(other);
        if (!other.why.empty()) part += ": " + other.why;
        if (!note.empty()) part += (other.why.empty() ? ": " : ", ") + note;
        parts.push_back(part);
    }
    return joined(parts, "; ");
}

std::vector<PageNotes::LetterMeaning> PageNotes::standings() const {
    std::vector<LetterMeaning> letters;
    if (from_memory_)
        letters.push_back(
            {"M", "from memory" +
                      (places_to_check_.empty() ? "" : ", to be checked at: " + joined(places_to_check_, "; "))});
    if (computed_) letters.push_back({"C", "computed from other figures of the table"});
    if (common_practice_) letters.push_back({"P", "common practice, no source"});
    return letters;
}

}  // namespace guardband::report
