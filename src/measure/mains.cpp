#include "measure/mains.h"

namespace guardband::measure {

std::vector<double> mains_rates_hz(const table::Table& table) {
    std::vector<double> rates;
    for (const table::Screen& screen : table.screens) {
        const table::Fact* kind = screen.facts.find("kind");
        if (kind != nullptr && kind->printed == "lamp") rates.push_back(screen.rate_hz() / 2);
    }
    return rates;
}

}  // namespace guardband::measure
