// Where the scene behind the picture's edges rests, beside something flat as well.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <random>
#include <vector>

#include "measure/clip/picture_edges.h"
#include "support/clip_frames.h"

namespace guardband::measure {
namespace {

constexpr int width = 400, height = 320, blanking_px = 9, board_x = 300, board_first = 80, board_end = 200;

/// Texture between soft edges, with an even board at the right one. Noise of 40 dB.
class Scene {
public:
    media::Frame frame(int index, double motion_px) {
        support::Planes planes;
        for (int y = 0; y < height; ++y)
            for (int x = 0; x < width; ++x) {
                const double light = (luma(x - motion_px * index, x, y) - 16) * inside(x) * inside(width - 1 - x);
                planes.luma.push_back(
                    static_cast<std::uint16_t>(std::clamp(std::lround(16 + light + noise_(random_)), 1L, 254L)));
            }
        return support::make_frame(support::luma_format(width, height, 8), planes, index);
    }

private:
    static double inside(int x) {
        constexpr double rise_px = 5;
        const double t = std::clamp((x - blanking_px) / rise_px + 0.5, 0.0, 1.0);
        return (1 - std::cos(std::numbers::pi * t)) / 2;
    }
    static double luma(double x, int x_shown, int y) {
        if (x_shown >= board_x && y >= board_first && y < board_end) return 180;
        double sum = 120;
        for (const auto& [along, down] :
             {std::array{0.23, 0.3}, std::array{0.41, -0.4}, std::array{0.11, 0.5}, std::array{0.62, 0.2}})
            sum += 12 * std::sin(along * x + down * y);
        return sum;
    }

    std::mt19937 random_{5};
    std::normal_distribution<double> noise_{0, 2.2};
};

/// Share of the lines beside the board, and of the others, that rest in the frames after the twelfth.
std::array<double, 2> rests(double motion_px) {
    Scene scene;
    PictureEdges edges(16, false);
    std::vector<LineEvidence> places;
    std::vector<char> resting;
    std::array<double, 2> sums{}, counts{};
    for (int index = 0; index < 20; ++index) {
        const media::Frame frame = scene.frame(index, motion_px);
        for (int parity = 0; parity < 2; ++parity) {
            edges.see(frame, parity, places);
            edges.rests(resting);
            for (int i = 0; index >= 12 && i < static_cast<int>(resting.size()); ++i) {
                const std::size_t kind = 2 * i >= board_first && 2 * i < board_end ? 0 : 1;
                sums[kind] += resting[static_cast<std::size_t>(i)], ++counts[kind];
            }
        }
    }
    return {sums[0] / counts[0], sums[1] / counts[1]};
}

// An even board shows any movement as well as any other: noise alone said that it moved.
TEST(EdgeRest, FlatThingsRestAsTheSceneDoes) {
    const auto [board, others] = rests(0);
    EXPECT_GE(board, 0.7);
    EXPECT_GE(others, 0.9);
}

TEST(EdgeRest, WhatMovesDoesNot) {
    const auto [board, others] = rests(-0.7);
    EXPECT_LE(others, 0.05);
}

}  // namespace
}  // namespace guardband::measure
