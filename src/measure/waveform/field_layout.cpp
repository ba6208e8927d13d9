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
    // Field blanking begins with the equalising pulses, lines here with the first broad one.
    const double before = fact(*scanning, "equalising_pulses", 0) / 2;
    layout.blanking_end = static_cast<int>(std::ceil(fact(*scanning, "field_blanking", 25) - before));
    layout.first_counted = layout.blanking_end + 2;
    layout.last_uncounted = static_cast<int>(before) + 1;
    return layout;
}

}  // namespace guardband::measure
