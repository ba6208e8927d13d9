#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace guardband::quantity {

/// An exact ratio of two 64-bit integers in lowest terms, denominator positive. Rates stay in this form until they
/// print, so that 60000/1001 Hz is never 59.94 Hz on the way. Arithmetic that would not fit throws `DomainError`; it
/// never wraps.
class Rational {
public:
    constexpr Rational() = default;
    /// @throws DomainError if `denominator` is 0
    Rational(std::int64_t numerator, std::int64_t denominator = 1);

    std::int64_t numerator() const { return numerator_; }
    std::int64_t denominator() const { return denominator_; }
    double value() const { return static_cast<double>(numerator_) / static_cast<double>(denominator_); }

    Rational operator-() const;
    friend Rational operator+(const Rational& a, const Rational& b);
    friend Rational operator-(const Rational& a, const Rational& b);
    friend Rational operator*(const Rational& a, const Rational& b);
    /// @throws DomainError if `b` is 0
    friend Rational operator/(const Rational& a, const Rational& b);
    friend bool operator==(const Rational&, const Rational&) = default;

private:
    std::int64_t numerator_ = 0;
    std::int64_t denominator_ = 1;
};

/// `60000/1001`, or `25` when the denominator is 1.
std::string to_string(const Rational& r);

/// Names that an exact expression may use, such as `line_rate`.
class Names {
public:
    virtual ~Names() = default;
    /// The value of a name. @throws InputError if there is none
    virtual Rational value(std::string_view name) const = 0;
};

/// Evaluates an exact expression of whole numbers, decimals, names, `+ - * /` and parentheses: `(1135/4 + 1/625) *
/// line_rate`.
/// @throws InputError that quotes the expression if it can't be read or a step would not fit 64 bits
Rational evaluate(std::string_view expression, const Names& names);

}  // namespace guardband::quantity
