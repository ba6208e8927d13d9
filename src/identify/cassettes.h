#pragma once

#include <memory>
#include <string>

#include "identify/mode_model.h"

namespace guardband::identify {

/// The spread of cassettes over all formats, for what a format's file does not say.
struct CassetteSpread {
    Normal length_m, thickness_um, hub_mm;
};
CassetteSpread cassette_spread(const table::Table& table);

/// The cassettes that a tape of a format, recorded in a scanning standard, may be. Those whose label counts the other
/// standard's minutes are less likely, and some share is left to grades that the table does not list.
std::shared_ptr<const Cassettes> cassettes_of(const Models& models, const table::TapeFormat& format,
                                              const std::string& system, const CassetteSpread& spread);

}  // namespace guardband::identify
