// A recording that goes on as something else says so.
#include <gmock/gmock.h>

#include "measure/waveform/made_video.h"
#include "testsignal/gaussian_noise.h"

namespace guardband::measure {
namespace {

std::vector<float> part(const char* system, double seconds, bool inverted = false) {
    auto recipe = video_recipe(system);
    recipe.sampling.rate_hz = 10'000'000;
    recipe.sampling.inverted = inverted;
    recipe.duration_s = seconds;
    recipe.disturbance.snr_db = 36;
    return video_samples(recipe, 8);
}

std::vector<float> joined(std::vector<float> first, const std::vector<float>& second) {
    first.insert(first.end(), second.begin(), second.end());
    return first;
}

std::vector<std::string> changes(const WaveformReport& report) {
    std::vector<std::string> all;
    for (const quantity::Event& event : report.events)
        if (event.kind == "changed") all.push_back(event.what);
    return all;
}

TEST(Changes, AreSaid) {
    using testing::ElementsAre;
    using testing::HasSubstr;
    EXPECT_THAT(changes(measured(joined(part("PAL", 1.9), part("PAL", 0.5, true)), 10e6)),
                ElementsAre(HasSubstr("from 625/50 PAL to 625/50 PAL, inverted")));
    EXPECT_THAT(changes(measured(joined(part("PAL", 1.9), part("NTSC", 0.5)), 10e6)),
                ElementsAre(HasSubstr("from 625/50 PAL to 525/60 NTSC")));
    std::vector<float> noise(8'000'000);
    testsignal::Random(3).fill_gaussian(noise);
    for (float& sample : noise) sample *= 0.1F;
    EXPECT_THAT(changes(measured(joined(part("SECAM", 0.6), noise), 10e6)),
                ElementsAre(HasSubstr("from 625/50 SECAM to no video but noise")));
}

TEST(Changes, AreNotMadeUp) {
    for (const char* system : {"PAL", "SECAM"})
        EXPECT_THAT(changes(measured(part(system, 2.4), 10e6)), testing::IsEmpty());
}

}  // namespace
}  // namespace guardband::measure
