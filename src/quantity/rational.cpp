#include "quantity/rational.h"

#include <cctype>
#include <limits>
#include <numeric>
#include <utility>

#include "quantity/errors.h"

namespace guardband::quantity {
namespace {

using Wide = __int128;

Wide greatest_common_divisor(Wide a, Wide b) {
    while (b != 0) a = std::exchange(b, a % b);
    return a < 0 ? -a : a;
}

Rational narrowed(Wide numerator, Wide denominator) {
    if (denominator == 0) throw DomainError("division by zero");
    const Wide divisor = greatest_common_divisor(numerator, denominator);
    if (divisor > 1) numerator /= divisor, denominator /= divisor;
    if (denominator < 0) numerator = -numerator, denominator = -denominator;
    constexpr Wide most = std::numeric_limits<std::int64_t>::max();
    if (numerator > most || numerator < -most || denominator > most)
        throw DomainError("an exact ratio needs more than 64 bits");
    return {static_cast<std::int64_t>(numerator), static_cast<std::int64_t>(denominator)};
}

/// Recursive descent over one expression; depth is bounded so that hostile nesting can't exhaust the stack.
class Evaluation {
public:
    Evaluation(std::string_view text, const Names& names) : text_(text), names_(names) {}

    Rational whole() {
        const Rational result = sum();
        if (!at_end()) fail("unexpected '" + std::string(1, text_[at_]) + "'");
        return result;
    }

private:
    static constexpr int deepest = 32;

    [[noreturn]] void fail(const std::string& why) const {
        throw InputError("expression \"" + std::string(text_) + "\"", why);
    }

    bool at_end() {
        while (at_ < text_.size() && std::isspace(static_cast<unsigned char>(text_[at_])) != 0) ++at_;
        return at_ == text_.size();
    }

    bool take(char c) {
        if (at_end() || text_[at_] != c) return false;
        ++at_;
        return true;
    }

    Rational sum() {
        if (++depth_ > deepest) fail("nested too deeply");
        Rational left = product();
        while (true) {
            if (take('+'))
                left = left + product();
            else if (take('-'))
                left = left - product();
            else
                break;
        }
        --depth_;
        return left;
    }

    Rational product() {
        Rational left = factor();
        while (true) {
            if (take('*'))
                left = left * factor();
            else if (take('/'))
                left = left / factor();
            else
                return left;
        }
    }

    Rational factor() {
        if (take('-')) return -atom();
        return atom();
    }

    Rational atom() {
        if (take('(')) {
            const Rational inner = sum();
            if (!take(')')) fail("a closing parenthesis is missing");
            return inner;
        }
        if (at_end()) fail("a number is missing at the end");
        const char c = text_[at_];
        if (std::isdigit(static_cast<unsigned char>(c)) != 0) return number();
        if (std::isalpha(static_cast<unsigned char>(c)) != 0) return names_.value(name());
        fail("unexpected '" + std::string(1, c) + "'");
    }

    Rational number() {
        Rational result;
        Rational scale(1);
        bool after_point = false;
        for (; at_ < text_.size(); ++at_) {
            const char c = text_[at_];
            if (c == '.' && !after_point) {
                after_point = true;
            } else if (std::isdigit(static_cast<unsigned char>(c)) != 0) {
                result = result * Rational(10) + Rational(c - '0');
                if (after_point) scale = scale * Rational(10);
            } else {
                break;
            }
        }
        return result / scale;
    }

    std::string_view name() {
        const std::size_t from = at_;
        while (at_ < text_.size() && (std::isalnum(static_cast<unsigned char>(text_[at_])) != 0 || text_[at_] == '_'))
            ++at_;
        return text_.substr(from, at_ - from);
    }

    std::string_view text_;
    const Names& names_;
    std::size_t at_ = 0;
    int depth_ = 0;
};

}  // namespace

Rational::Rational(std::int64_t numerator, std::int64_t denominator)
    : numerator_(numerator), denominator_(denominator) {
    if (denominator == 0) throw DomainError("a ratio with denominator 0");
    if (numerator == std::numeric_limits<std::int64_t>::min() ||
        denominator == std::numeric_limits<std::int64_t>::min())
        throw DomainError("an exact ratio needs more than 64 bits");
    const std::int64_t divisor = std::gcd(numerator, denominator);
    if (divisor > 1) numerator_ /= divisor, denominator_ /= divisor;
    if (denominator_ < 0) numerator_ = -numerator_, denominator_ = -denominator_;
}

Rational Rational::operator-() const { return {-numerator_, denominator_}; }

Rational operator+(const Rational& a, const Rational& b) {
    return narrowed(Wide(a.numerator_) * b.denominator_ + Wide(b.numerator_) * a.denominator_,
                    Wide(a.denominator_) * b.denominator_);
}

Rational operator-(const Rational& a, const Rational& b) { return a + (-b); }

Rational operator*(const Rational& a, const Rational& b) {
    return narrowed(Wide(a.numerator_) * b.numerator_, Wide(a.denominator_) * b.denominator_);
}

Rational operator/(const Rational& a, const Rational& b) {
    return narrowed(Wide(a.numerator_) * b.denominator_, Wide(a.denominator_) * b.numerator_);
}

std::string to_string(const Rational& r) {
    std::string text = std::to_string(r.numerator());
    if (r.denominator() != 1) text += "/" + std::to_string(r.denominator());
    return text;
}

Rational evaluate(std::string_view expression, const Names& names) {
    try {
        return Evaluation(expression, names).whole();
    } catch (const DomainError& e) {
        throw InputError("expression \"" + std::string(expression) + "\"", e.what());
    }
}

}  // namespace guardband::quantity
