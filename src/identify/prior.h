#pragma once

#include <map>
#include <string>
#include <vector>

#include "identify/mode_model.h"
#include "table/document.h"

namespace guardband::identify {

/// How likely each mode is before any evidence.
///
/// Without more to go by every format is as likely as any other, and within a format every mode. Were every mode as
/// likely as any other, a format would be taken for likely merely because it can do much: quadruplex, with eight
/// modes, eight times as likely as type A with its one.
class Prior {
public:
    explicit Prior(const Models& models);

    /// Of the modes of `Models::all`, in their order; they sum to 1.
    const std::vector<double>& probabilities() const { return probabilities_; }

    /// Multiplies the modes by a weight each, and makes them sum to 1 again.
    /// @throws DomainError if no mode is left
    void weigh(const std::vector<double>& weights);

private:
    std::vector<double> probabilities_;
};

/// The tape comes from this part of the world: a mode on a scanning standard that was not used there counts a
/// twentieth, for tapes travel.
std::vector<double> weights_of(const Models& models, const table::Region& region);

/// A prior file: `[formats]`, `[systems]` and `[modes]` with a weight for ids, scanning standards and addresses, and
/// `"*"` for the rest of a section (1 without it). Weights multiply; 0 rules out.
/// @throws InputError that names file, line and key
std::vector<double> read_prior(const Models& models, const table::Document& document);

/// @throws InputError with the regions that there are
const table::Region& region_named(const table::Table& table, const std::string& name, const std::string& input);

}  // namespace guardband::identify
