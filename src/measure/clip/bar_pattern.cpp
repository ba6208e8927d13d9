#include "measure/clip/bar_pattern.h"

#include <array>
#include <charconv>
#include <map>
#include <string_view>

namespace guardband::measure {
namespace {

/// Which primaries are on.
const std::map<std::string, std::array<bool, 3>, std::less<>>& primaries() {
    static const std::map<std::string, std::array<bool, 3>, std::less<>> all{
        {"white", {true, true, true}},   {"yellow", {true, true, false}},  {"cyan", {false, true, true}},
        {"green", {false, true, false}}, {"magenta", {true, false, true}}, {"red", {true, false, false}},
        {"blue", {false, false, true}},  {"black", {false, false, false}}};
    return all;
}

std::vector<std::string> split(std::string_view text, char separator) {
    std::vector<std::string> parts;
    while (true) {
        const auto end = text.find(separator);
        std::string_view part = text.substr(0, end);
        while (!part.empty() && part.front() == ' ') part.remove_prefix(1);
        parts.emplace_back(part);
        if (end == std::string_view::npos) return parts;
        text.remove_prefix(end + 1);
    }
}

/// Codes of a raster.
struct Coding {
    double black = 0, white = 0, colour_span = 0;
    double red = 0, green = 0, blue = 0;  ///< shares in luma

    BarStripe stripe(std::string name, double r, double g, double b) const {
        const double luma = red * r + green * g + blue * b;
        const std::complex<double> colour{(b - luma) / (2 - 2 * blue), (r - luma) / (2 - 2 * red)};
        return {std::move(name), black + luma * (white - black), colour_span * colour};
    }
};

std::optional<BarPattern> pattern_of(const std::string& name, const std::vector<std::string>& order,
                                     const Coding& coding) {
    std::array<double, 4> levels{};
    const std::vector<std::string> parts = split(name, '/');
    if (parts.size() != levels.size()) return std::nullopt;
    for (std::size_t i = 0; i < levels.size(); ++i) {
        const std::string& part = parts[i];
        if (std::from_chars(part.data(), part.data() + part.size(), levels[i]).ec != std::errc{}) return std::nullopt;
        levels[i] /= 100;
    }
    const auto [white, black, greatest, least] = levels;
    BarPattern pattern{name, {}};
    for (const std::string& stripe : order) {
        const auto found = primaries().find(stripe);
        if (found == primaries().end()) return std::nullopt;
        const double on = stripe == "white" ? white : greatest, off = stripe == "black" ? black : least;
        const auto& [r, g, b] = found->second;
        pattern.stripes.push_back(coding.stripe(stripe, r ? on : off, g ? on : off, b ? on : off));
    }
    return pattern;
}

}  // namespace

std::vector<BarPattern> bar_patterns(const media::PictureFormat& picture, const table::Table& table) {
    const table::Raster* raster = table.find_raster(picture.width, picture.height);
    if (raster == nullptr && !table.rasters.empty()) raster = &table.rasters.front();
    if (raster == nullptr) return {};
    const auto number = [&](std::string_view key) {
        const table::Fact* fact = raster->facts.known(key);
        return fact != nullptr && fact->value ? *fact->value : 0.0;
    };
    const table::Fact *kinds = raster->facts.known("colour_bars"), *order = raster->facts.known("bar_order");
    if (kinds == nullptr || order == nullptr) return {};
    const LumaRange range = luma_range(picture, table);
    const double luma_span = range.to_8_bit(range.white - range.black);
    // In a file that uses all codes, colour does so too.
    const double colour_span = picture.full_range ? luma_span : number("colour_span");
    const Coding coding{range.to_8_bit(range.black), range.to_8_bit(range.white), colour_span,
                        number("luma_red"),          number("luma_green"),        number("luma_blue")};
    std::vector<BarPattern> patterns;
    const std::vector<std::string> stripes = split(order->printed, ',');
    for (const std::string& kind : split(kinds->printed, ',')) {
        auto pattern = pattern_of(kind, stripes, coding);
        if (!pattern) continue;
        patterns.push_back(*pattern);
        const std::vector<std::string> levels = split(kind, '/');
        if (levels[0] != levels[2] || pattern->stripes.back().name != "black") continue;
        pattern->stripes.pop_back();
        patterns.push_back(*std::move(pattern));
    }
    return patterns;
}

}  // namespace guardband::measure
