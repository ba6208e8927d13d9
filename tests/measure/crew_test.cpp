#include "measure/crew.h"

#include <gtest/gtest.h>

#include <array>
#include <atomic>
#include <chrono>
#include <set>
#include <stdexcept>
#include <string>

namespace guardband::measure {
namespace {

class CrewOf : public testing::TestWithParam<int> {};

TEST_P(CrewOf, DoesEachJobOnceAndThenReturns) {
    Crew crew(GetParam());
    std::array<int, 40> done{};  // not atomic: each is one job's, and read when all are done
    for (int round = 1; round <= 500; ++round) {
        crew.run(done.size(), [&](std::size_t i) { ++done[i]; });
        for (const int times : done) ASSERT_EQ(times, round);
    }
}

TEST_P(CrewOf, ReturnsWhereNothingIsToDo) {
    Crew crew(GetParam());
    crew.run(0, [](std::size_t) { FAIL(); });
}

TEST_P(CrewOf, HandsAFailureToTheCallerOnceNoJobRuns) {
    Crew crew(GetParam());
    for (int round = 0; round < 50; ++round) {
        std::atomic<int> running{0};
        try {
            crew.run(20, [&](std::size_t i) {
                ++running;
                if (i == 7) --running, throw std::runtime_error("the seventh");
                std::this_thread::yield();
                --running;
            });
            FAIL() << "the failure was lost";
        } catch (const std::runtime_error& error) {
            EXPECT_EQ(std::string(error.what()), "the seventh");
        }
        EXPECT_EQ(running, 0);
    }
    int after = 0;
    crew.run(1, [&](std::size_t) { ++after; });
    EXPECT_EQ(after, 1) << "a failure must not stay";
}

INSTANTIATE_TEST_SUITE_P(Threads, CrewOf, testing::Values(1, 2, 5), testing::PrintToStringParamName());

/// Two jobs that wait for each other meet only if both run at once.
TEST(Crew, WorksOnAllItsThreads) {
    Crew crew(2);
    std::atomic<int> arrived{0};
    const auto patience = std::chrono::steady_clock::now() + std::chrono::seconds(20);
    crew.run(2, [&](std::size_t) {
        ++arrived;
        while (arrived < 2 && std::chrono::steady_clock::now() < patience)
            std::this_thread::sleep_for(std::chrono::milliseconds(1));
        EXPECT_EQ(arrived, 2);
    });
}

TEST(Crew, OfOneWorksOnTheCallersThread) {
    Crew crew(1);
    std::set<std::thread::id> threads;
    crew.run(10, [&](std::size_t) { threads.insert(std::this_thread::get_id()); });
    EXPECT_EQ(threads, std::set{std::this_thread::get_id()});
}

}  // namespace
}  // namespace guardband::measure
