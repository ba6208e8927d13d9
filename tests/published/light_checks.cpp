// Screens before cameras against worked values.
#include <gmock/gmock.h>

#include <cmath>
#include <functional>
#include <map>

#include "calc/beat.h"
#include "published/check.h"
#include "quantity/errors.h"
#include "quantity/rational.h"

namespace guardband {
namespace {

class NoNames : public quantity::Names {
    quantity::Rational value(std::string_view name) const override {
        throw quantity::DomainError("no name " + std::string(name) + " here");
    }
};

quantity::Rational exact(const std::string& text) { return quantity::evaluate(text, NoNames{}); }

double beat_hz(const Check& c) { return std::abs(calc::beat(exact(c.given.screen), exact(c.given.camera)).value()); }

const std::map<std::string, std::function<double(const Check&)>> results{
    {"beat", beat_hz},
    {"beat_period", [](const Check& c) { return 1 / beat_hz(c); }},
    {"exposure_gain",
     [](const Check& c) {
         return calc::exposure_gain(exact(c.given.screen).value(), exact(c.given.exposure).value());
     }},
    {"bands",
     [](const Check& c) {
         return calc::bands_per_height(exact(c.given.screen).value(), exact(c.given.readout).value(), 0);
     }},
};

}  // namespace

bool holds_beat(const Check& c) {
    const auto result = results.find(c.what);
    if (result == results.end()) return false;
    EXPECT_NEAR(result->second(c), std::stod(c.expect), allowance(c));
    return true;
}

}  // namespace guardband
