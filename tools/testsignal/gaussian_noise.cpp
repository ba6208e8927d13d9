#include "testsignal/gaussian_noise.h"

#include <cmath>

namespace guardband::testsignal {
namespace {

// Splitmix64: spreads any seed over all bits.
std::uint64_t spread(std::uint64_t& state) {
    std::uint64_t z = (state += 0x9e3779b97f4a7c15U);
    z = (z ^ (z >> 30U)) * 0xbf58476d1ce4e5b9U;
    z = (z ^ (z >> 27U)) * 0x94d049bb133111ebU;
    return z ^ (z >> 31U);
}

constexpr int layers = 256;
// Where the tail begins and the area of each layer, for 256 layers (Marsaglia and Tsang, The ziggurat method, 2000).
constexpr double tail_start = 3.6541528853610088;
constexpr double layer_area = 0.00492867323399;

/// Edges of the layers: x[0] is the base's width, x[1] = tail_start, x[256] = 0; and the density at each edge.
struct Ziggurat {
    std::array<double, layers + 1> x{}, density{};

    Ziggurat() {
        const auto bell = [](double v) { return std::exp(-0.5 * v * v); };
        x[0] = layer_area / bell(tail_start);
        x[1] = tail_start;
        for (std::size_t i = 2; i < layers; ++i)
            x[i] = std::sqrt(-2 * std::log(layer_area / x[i - 1] + bell(x[i - 1])));
        x[layers] = 0;
        for (std::size_t i = 0; i <= layers; ++i) density[i] = bell(x[i]);
    }
};

const Ziggurat ziggurat;

double tail(Random& random) {
    for (;;) {
        const double beyond = -std::log(1 - random.uniform()) / tail_start;
        const double accept = -std::log(1 - random.uniform());
        if (2 * accept > beyond * beyond) return tail_start + beyond;
    }
}

}  // namespace

std::uint64_t mixed_seed(std::uint64_t seed, std::uint64_t a, std::uint64_t b) {
    std::uint64_t state = seed;
    state = spread(state) ^ a;
    state = spread(state) ^ b;
    return spread(state);
}

Random::Random(std::uint64_t seed) : state_{} {
    for (auto& word : state_) word = spread(seed);
}

double Random::gaussian() {
    for (;;) {
        const std::uint64_t r = bits();
        const auto layer =
            static_cast<std::size_t>((r >> 3U) & 255U);  // the lowest bits of this generator are its weakest
        const double signed_unit = static_cast<double>(static_cast<std::int64_t>(r) >> 11) * 0x1p-52;  // [-1, 1)
        const double value = signed_unit * ziggurat.x[layer];
        if (std::abs(value) < ziggurat.x[layer + 1]) return value;
        if (layer == 0) return std::copysign(tail(*this), signed_unit);
        const double low = ziggurat.density[layer], high = ziggurat.density[layer + 1];
        if (low + uniform() * (high - low) < std::exp(-0.5 * value * value)) return value;
    }
}

void Random::fill_gaussian(std::span<float> out) {
    Random local = *this;  // keeps the state in registers
    for (auto& value : out) value = static_cast<float>(local.gaussian());
    *this = local;
}

}  // namespace guardband::testsignal
