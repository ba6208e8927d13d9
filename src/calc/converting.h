#pragma once

#include <functional>
#include <span>
#include <string>
#include <vector>

#include "calc/conversion.h"
#include "calc/conversion_basis.h"
#include "calc/conversion_words.h"
#include "calc/frame_rate_change.h"
#include "calc/propagation.h"

namespace guardband::calc {

/// Works out one conversion: part of `conversion`, for its own sources only. Levels, resolution and ratios stand in
/// conversion.cpp, times, time code and speeds in conversion_of_time.cpp.
class Converting {
public:
    Converting(const table::Table& table, const ConversionQuery& query) : query_(query), basis_(table, query) {}
    /// The answer; to be asked for once. @throws InputError as `conversion`
    Conversion whole();

private:
    quantity::InputError no_way(const ConversionEnd& from, const ConversionEnd& to) const;
    void convert(const ConversionEnd& from, const ConversionEnd& to);
    /// The value in the unit that FROM names.
    quantity::Quantity read(const ConversionEnd& from);
    static std::string with_spread(double value, std::optional<double> half_width);
    /// Fills in the answer by a formula of the value and further inputs, with the spread that they give it.
    void settle(const quantity::Quantity& given, std::vector<Input> others,
                const std::function<double(std::span<const double>)>& formula);
    std::vector<Given> all_givens() const;
    void add_step(const std::string& meaning, const std::string& formula, const std::string& numbers,
                  const std::string& result, const std::string& source);
    void explain(const std::string& meaning, const std::string& formula, const std::string& numbers,
                 const std::string& source);
    std::string result_text() const;
    void scale(const quantity::Quantity& given, const quantity::Unit& to);
    void convert_level(const quantity::Quantity& given, const quantity::Unit& to);
    void use_levels(const LevelScale& levels, const quantity::Unit& from, const quantity::Unit& to);
    /// By way of mV: from IRE or code to them, then from them to IRE or code.
    void explain_level(const LevelScale& levels, const quantity::Quantity& given, const quantity::Unit& to,
                       double level_mv);
    static std::string code8(double code10);
    static std::string straight(const LevelScale& levels);
    static std::string codes_source(const LevelScale& levels);
    void remark_code();
    void convert_time(const quantity::Quantity& given, const quantity::Unit& to);
    static std::string dimension_word(const quantity::Unit& unit);
    void convert_resolution(const quantity::Quantity& given, const quantity::Unit& to);
    void convert_decibels(const quantity::Quantity& given, const quantity::Unit& to);
    void convert_time_code(const ConversionEnd& from, const ConversionEnd& to);
    /// Drop-frame where the rate has it, unless asked otherwise.
    bool writes_drop();
    void write_time_code(const ConversionEnd& from);
    void read_time_code(const ConversionEnd& to);
    void remark_rate(const TimeCodeRate& rate);
    void explain_time_code(const TimeCodeRate& rate, const std::string& given, const std::string& result);
    void change_speed(const quantity::Quantity& recorded, const quantity::Quantity& played);
    /// The running time at the recorded speed; seconds if no unit is written.
    quantity::Quantity read_duration();
    void explain_speed(const quantity::Quantity& time, const std::string& from, const std::string& to,
                       const SpeedChange& change);
    const ConversionQuery& query_;
    ConversionBasis basis_;
    Conversion answer_;
};

}  // namespace guardband::calc
