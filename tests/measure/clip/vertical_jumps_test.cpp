// Jumps of a tape's picture and a camera that is struck, as series of shifts of known origin.
#include "measure/clip/vertical_jumps.h"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <numbers>
#include <random>
#include <vector>

namespace guardband::measure {
namespace {

constexpr double fields_per_s = 50, error_rows = 0.08;
constexpr int frames = 40;

/// Finds the jumps in a picture that lies at known places. @param place_of  in field rows, by field in time
/// @param stood_out  counts frames in which the picture lies far from where it should
std::vector<VerticalJumps::Jump> jumps_in(const std::function<double(int)>& place_of, bool lower_first,
                                          std::mt19937& random, int* stood_out = nullptr) {
    std::normal_distribution<double> error(0, error_rows);
    VerticalJumps finder;
    std::vector<VerticalJumps::Jump> found;
    for (int frame = 1; frame < frames; ++frame) {
        const auto shift = [&](int second) {
            return place_of(2 * frame + second) - place_of(2 * frame + second - 2) + error(random);
        };
        const double first = shift(0), second = shift(1);
        const VerticalJumps::Shifts shifts{lower_first ? second : first, lower_first ? first : second};
        const auto expected = finder.expected();
        const bool jumps = expected && VerticalJumps::stands_out(*shifts.upper, *expected);
        if (jumps && stood_out) ++*stood_out;
        finder.add(shifts, jumps, lower_first, frame, frame / 25.0);
        for (const auto& jump : finder.take()) found.push_back(jump);
    }
    return found;
}

// A camera that is struck swings out, at 3 to 10 Hz, by up to 12 rows.
TEST(VerticalJumps, BlowsToACameraAreNone) {
    std::mt19937 random(4);
    std::uniform_real_distribution<double> rows(2, 12), hz(3, 10), decay_per_s(5, 12), begin(24, 30), drift(-1, 1);
    int stood_out = 0, told = 0;
    for (int i = 0; i < 300; ++i) {
        const double size = rows(random), rate = hz(random), decay = decay_per_s(random), at = begin(random),
                     speed = drift(random);
        const auto place = [&](int field) {
            const double t = (field - at) / fields_per_s;
            const double swing = t > 0 ? size * std::exp(-decay * t) * std::sin(2 * std::numbers::pi * rate * t) : 0;
            return speed * field / 2 + swing;
        };
        told += jumps_in(place, i % 2 == 1, random, &stood_out).empty() ? 0 : 1;
    }
    EXPECT_GE(stood_out, 200);  // or the test would say nothing
    EXPECT_LE(told, 6);         // 2 % of blows by up to 24 lines
}

// What a title or a wipe that begins within a field does: part of a step, then whole ones.
TEST(VerticalJumps, MovementThatBeginsBetweenTwoFieldsIsNone) {
    std::mt19937 random(5);
    for (const double begin : {20.3, 20.6, 20.9, 21.3, 21.6})
        for (const double rows : {2.4, 4.0, 7.0}) {
            const auto place = [&](int field) { return rows / 2 * std::max(0.0, field - begin); };
            EXPECT_TRUE(jumps_in(place, false, random).empty()) << begin << ", " << rows;
        }
}

struct Jumping {
    const char* what;
    int fields;  ///< for which the picture lies elsewhere
    bool each_elsewhere;
};

void PrintTo(const Jumping& j, std::ostream* out) { *out << j.what; }

class JumpsOfATape : public testing::TestWithParam<Jumping> {};

// By whole rows, under a camera that drifts by parts of a row.
TEST_P(JumpsOfATape, AreFound) {
    std::mt19937 random(6);
    std::uniform_int_distribution<int> rows(3, 11), each(-7, 7), begin(0, 1);
    std::uniform_real_distribution<double> drift(-1, 1);
    int told = 0;
    constexpr int tries = 100;
    for (int i = 0; i < tries; ++i) {
        const bool lower_first = i % 2 == 1;
        // One field alone is seen where it is an upper one.
        const int first = GetParam().fields == 1 ? 30 + (lower_first ? 1 : 0) : 30 + begin(random);
        const double speed = drift(random);
        std::vector<double> off(2 * frames, 0);
        const int size = rows(random);
        for (int k = 0; k < GetParam().fields && first + k < 2 * frames; ++k)
            off[static_cast<std::size_t>(first + k)] = GetParam().each_elsewhere ? each(random) : size;
        const auto jumps = jumps_in([&](int field) { return speed * field / 2 + off[static_cast<std::size_t>(field)]; },
                                    lower_first, random);
        told += !jumps.empty() && std::abs(jumps.front().frame - 15) <= 4 ? 1 : 0;
    }
    EXPECT_GE(told, 90);
}

INSTANTIATE_TEST_SUITE_P(Kinds, JumpsOfATape,
                         testing::Values(Jumping{"one field", 1, false}, Jumping{"a frame", 2, false},
                                         Jumping{"for good", 99, false}, Jumping{"each field elsewhere", 8, true}));

// A camera in a hand, whose movement changes by parts of a row, hides no fields that jump each by itself.
TEST(VerticalJumps, FieldsThatJumpUnderACameraInAHandAreFound) {
    std::mt19937 random(7);
    std::uniform_int_distribution<int> each(-7, 7);
    int told = 0;
    for (int i = 0; i < 50; ++i) {
        std::vector<double> off(2 * frames, 0);
        for (std::size_t k = 30; k < 38; ++k) off[k] = each(random);
        const auto place = [&](int field) {
            return 2.5 * std::sin(field / 14.0 + i) + off[static_cast<std::size_t>(field)];
        };
        told += jumps_in(place, i % 2 == 1, random).empty() ? 0 : 1;
    }
    EXPECT_GE(told, 45);
}

}  // namespace
}  // namespace guardband::measure
