#pragma once

#include <string>

#include "calc/conversion.h"
#include "calc/line_time.h"
#include "calc/time_code.h"
#include "quantity/errors.h"

namespace guardband::calc {

/// What a conversion rests on beside the number itself, looked up when a unit first asks for it. Each look-up adds its
/// origin to the list of givens.
class ConversionBasis {
public:
    /// @throws InputError for a system, a sampling rate or a frame rate that is none
    ConversionBasis(const table::Table& table, const ConversionQuery& query);

    /// @throws InputError if the query names no system, or one on which several colour systems differ
    LevelScale levels();
    /// @throws InputError if the query does not settle the clock that this dimension is counted by
    double per_second(quantity::Dimension dimension);
    /// @throws InputError if the query settles no frame rate, or one that no time code counts
    TimeCodeRate time_code(bool drop);
    quantity::Rational frame_rate();
    /// The scanning standard. @throws InputError if the query names none
    const table::Scanning& scanning();
    /// A fact of the scanning standard. @throws InputError if the table does not know it
    const table::Fact& scanning_fact(const std::string& key, const std::string& what);

    /// Notes a number of the table that the answer used.
    void use(const std::string& symbol, const std::string& meaning, const std::string& value, const table::Fact* fact,
             const std::string& origin = "");
    const std::vector<Given>& givens() const { return givens_; }
    /// `NTSC, set-up removed, 13.5 MHz`
    std::string words() const;
    bool uses_table() const { return uses_table_; }

private:
    double sampling_hz();
    double given_sampling_hz();
    double use_sampling_rate(const table::Fact& fact);
    const table::Fact& composite_sampling_rate() const;
    double subcarrier_hz();
    double line_hz();
    std::vector<const table::Colour*> colours() const;
    std::vector<const table::Colour*> coded_colours() const;
    quantity::InputError no_system(const std::string& what) const;
    void say(const std::string& word);

    const table::Table& table_;
    const ConversionQuery& query_;
    const table::Colour* colour_ = nullptr;
    const table::Scanning* scanning_ = nullptr;
    std::vector<Given> givens_;
    std::vector<std::string> words_;
    bool uses_table_ = false;
};

/// A number for people: whole numbers whole, else six significant digits and at least three decimals' worth.
std::string plain_number(double value);

}  // namespace guardband::calc
