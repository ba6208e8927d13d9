#include "measure/waveform/field_layout.h"

#include <cmath>

namespace guardband::measure {
namespace {

double fact(const table::Scanning& scanning, const char* key, double otherwise) {
    const table::Fact* found = scanning.facts.known(key);
    return found != nullptr && found->is_number() ? *found->value : otherwise;
}

}  // namespace

FieldLayout layout_of(const table::Scanning* scanning) {
    FieldLayout layout;
    if (scanning == nullptr) return layout;
    layout.scanning = scanning;
    layout.blanking_end = static_cast<int>(std::ceil(fact(*scanning, "field_blanking", layout.blanking_end)));
    layout.first_counted = layout.blanking_end + 2;
    layout.last_uncounted = static_cast<int>(fact(*scanning, "equalising_pulses", 0)) / 2 + 1;
    // Line 1 is the first equalising pulse or the first broad one: the table says which in words.
    const table::Fact* line_one = scanning->facts.known("line_one");
    const bool by_equalising = line_one != nullptr && line_one->printed.find("equalising") != std::string::npos;
    const int before = by_equalising ? static_cast<int>(fact(*scanning, "equalising_pulses", 0) / 2) : 0;
    const auto lines = static_cast<int>(std::lround(fact(*scanning, "lines", 625)));
    layout.first_line_number = 1 + before;
    layout.second_line_number = layout.first_line_number + lines / 2 + 1;
    return layout;
}

}  // namespace guardband::measure
