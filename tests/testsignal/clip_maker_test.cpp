#include "testsignal/clip_maker.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>

#include "quantity/errors.h"

namespace guardband::testsignal {
namespace {

Recipe small() {
    Recipe r;
    r.raster.width = 192, r.raster.height = 144;
    r.duration_s = 0.4;
    return r;
}

ClipFrame frame_of(const Recipe& r, std::int64_t index) {
    ClipMaker maker(r);
    ClipFrame frame;
    maker.make(index, frame);
    return frame;
}

std::vector<std::uint16_t> field_rows(const SamplePlane& plane, int parity) {
    std::vector<std::uint16_t> out;
    for (int y = parity; y < plane.height; y += 2) out.insert(out.end(), plane.row(y), plane.row(y) + plane.width);
    return out;
}

TEST(ClipMaker, FieldsAreTakenAtFieldTimesInTheirOrder) {
    for (const auto order : {FieldOrder::TopFirst, FieldOrder::BottomFirst}) {
        Recipe r = small();
        r.field_order = order;
        Recipe progressive = r;  // at field rate, through the same camera: every field is a half of one of its frames
        progressive.scan = Scan::Progressive;
        progressive.raster.frame_rate = {50, 1};
        progressive.picture.aperture_lines = 2;
        const auto woven = frame_of(r, 3).planes[0], first = frame_of(progressive, 6).planes[0],
                   second = frame_of(progressive, 7).planes[0];
        const int first_parity = order == FieldOrder::TopFirst ? 0 : 1;
        EXPECT_EQ(field_rows(woven, first_parity), field_rows(first, first_parity));
        EXPECT_EQ(field_rows(woven, 1 - first_parity), field_rows(second, 1 - first_parity));
        EXPECT_NE(field_rows(first, 0), field_rows(second, 0));
    }
}

// Halves of the two fields around it, at half way.
TEST(ClipMaker, AConversionMixesPictures) {
    Recipe r = small();
    r.raster.frame_rate = {30, 1};
    r.conversion.emplace();
    r.conversion->from_field_rate = quantity::Rational(50, 1);
    Recipe source = r;  // every source field is a frame, seen through the same camera
    source.conversion.reset();
    source.scan = Scan::Progressive;
    source.raster.frame_rate = {50, 1};
    source.picture.aperture_lines = 2;
    source.picture.motion_px = r.picture.motion_px * 60 / 50;
    const auto mixed = field_rows(frame_of(r, 1).planes[0], 1);  // field 3: 2.5 fields into the source
    const auto before = field_rows(frame_of(source, 2).planes[0], 1),
               after = field_rows(frame_of(source, 3).planes[0], 1);
    for (std::size_t i = 0; i < mixed.size(); ++i) ASSERT_NEAR(mixed[i], (before[i] + after[i]) / 2.0, 1.01);
}

TEST(ClipMaker, ThePlayerDrawsPicturesWithoutNoise) {
    Recipe r = small();
    r.noise.snr_db = 30;
    r.player.black = {{1, 1}}, r.player.grey = {{2, 1}}, r.player.blue = {{3, 1}}, r.player.colourless = {{5, 1}};
    for (const int frame : {1, 2, 3}) {
        const ClipFrame made = frame_of(r, frame);
        for (const SamplePlane& plane : made.planes) {
            const auto [low, high] = std::ranges::minmax(plane.samples);
            EXPECT_EQ(low, high) << frame;
        }
        const bool black = frame == 1, blue = frame == 3;
        EXPECT_EQ(made.planes[0].samples[0] == 64, black);
        EXPECT_EQ(made.planes[1].samples[0] > 512, blue);
    }
    const auto colour_rms = [&r](int frame) {
        const ClipFrame made = frame_of(r, frame);
        double squares = 0;
        for (const std::uint16_t code : made.planes[1].samples) squares += (code - 512.0) * (code - 512.0);
        return std::sqrt(squares / static_cast<double>(made.planes[1].samples.size()));
    };
    EXPECT_NEAR(colour_rms(5), 4 * 219 / std::pow(10, 30 / 20.0), 1);  // noise alone
    EXPECT_GT(colour_rms(4), 40);
}

// Its lines have nothing in common with each other; all others are as without it.
TEST(ClipMaker, ABandOfNoiseCoversItsLinesAndDrifts) {
    Recipe r = small();
    const ClipFrame clean = frame_of(r, 5);
    r.noise_band = NoiseBandSettings{0.25, 0.25, 1.25, 0.1, 1};  // at 0.2 s from 0.375 to 0.625
    const ClipFrame made = frame_of(r, 5);
    for (int y = 0; y < 144; ++y) {
        const bool covered = y / 2 >= 30 && y / 2 < 44, clear = y / 2 < 26 || y / 2 > 48;
        const bool same = std::equal(made.planes[0].row(y), made.planes[0].row(y) + 192, clean.planes[0].row(y));
        EXPECT_FALSE(covered && same) << y;
        EXPECT_FALSE(clear && !same) << y;
    }
}

TEST(ClipMaker, TheSameRecipeGivesTheSameSamplesInAnyOrder) {
    Recipe r = small();
    r.noise.snr_db = 30;
    ClipMaker forwards(r), other(r);
    ClipFrame a, b;
    for (int n = 0; n < 5; ++n) forwards.next(a);
    other.make(9, b);
    other.make(4, b);
    for (std::size_t p = 0; p < 3; ++p) EXPECT_EQ(a.planes[p].samples, b.planes[p].samples);
    r.seed = 2;
    EXPECT_NE(frame_of(r, 4).planes[0].samples, b.planes[0].samples);
}

/// RMS of the difference of two planes and its correlation from one sample to the next.
std::pair<double, double> difference(const SamplePlane& a, const SamplePlane& b) {
    double sum = 0, product = 0;
    for (std::size_t i = 0; i < a.samples.size(); ++i) {
        const double d = a.samples[i] - b.samples[i];
        sum += d * d;
        if (i > 0) product += d * (a.samples[i - 1] - b.samples[i - 1]);
    }
    return {std::sqrt(sum / static_cast<double>(a.samples.size())), product / sum};
}

TEST(ClipMaker, NoiseHasTheLevelThatIsAskedFor) {
    for (const int bits : {8, 10})
        for (const double snr_db : {26.0, 34.0, 46.0}) {
            Recipe clean = small();
            clean.bit_depth = bits;
            clean.picture.objects = false;  // mid tones only: nothing is clipped
            Recipe noisy = clean;
            noisy.noise.snr_db = snr_db;
            noisy.noise.chroma_snr_db = snr_db + 3;
            const auto a = frame_of(noisy, 2), b = frame_of(clean, 2);
            const double code = bits == 10 ? 4 : 1, n = static_cast<double>(a.planes[0].samples.size());
            for (std::size_t p = 0; p < 3; ++p) {
                const double asked = code * 219 / std::pow(10, (snr_db + (p == 0 ? 0 : 3)) / 20);
                // both clips are rounded to whole codes, which adds an error of variance 1/12 each
                const double expected = std::sqrt(asked * asked + 1.0 / 6);
                const auto [rms, correlation] = difference(a.planes[p], b.planes[p]);
                // Sampling error of the RMS of n values is 1 / sqrt(2 n); chroma planes have half as many. In 8 bits
                // the two roundings are not quite independent of the noise when that is small, so 3 % there.
                EXPECT_NEAR(rms / expected, 1, bits == 8 ? 0.03 : 4 / std::sqrt(n))
                    << bits << " bits, " << snr_db << " dB, plane " << p;
                EXPECT_NEAR(correlation, 0, bits == 8 ? 0.05 : 6 / std::sqrt(n))
                    << bits << " bits, " << snr_db << " dB, plane " << p;
            }
        }
}

TEST(ClipMaker, NoiseDiffersFromFieldToField) {
    Recipe r = small();
    r.picture.still = true;
    r.noise.snr_db = 30;
    const auto a = frame_of(r, 0).planes[0], b = frame_of(r, 1).planes[0];
    EXPECT_NEAR(difference(a, b).first, std::sqrt(2.0) * 4 * 219 / std::pow(10, 1.5), 0.5);
}

TEST(ClipMaker, RepeatsAfterNoiseAreExactCopies) {
    Recipe r = small();
    r.noise.snr_db = 30;
    r.faults.repeated_fields = {9};  // the second field of frame 4, bottom
    const auto before = frame_of(r, 3), repeat = frame_of(r, 4);
    EXPECT_EQ(field_rows(before.planes[0], 1), field_rows(repeat.planes[0], 1));
    EXPECT_EQ(field_rows(before.planes[1], 1), field_rows(repeat.planes[1], 1));
    EXPECT_NE(field_rows(before.planes[0], 0), field_rows(repeat.planes[0], 0));
}

TEST(ClipMaker, RepeatsBeforeNoiseShareThePictureOnly) {
    Recipe r = small();
    r.faults.repeated_frames = {4};
    r.faults.repeat_stage = RepeatStage::BeforeNoise;
    EXPECT_EQ(frame_of(r, 3).planes[0].samples, frame_of(r, 4).planes[0].samples);
    r.noise.snr_db = 30;
    EXPECT_NEAR(difference(frame_of(r, 3).planes[0], frame_of(r, 4).planes[0]).first,
                std::sqrt(2.0) * 4 * 219 / std::pow(10, 1.5), 0.6);
}

/// The code in the middle of the darkest and of the brightest fiftieth part of the samples.
std::pair<int, int> extremes(const Recipe& r) {
    auto samples = frame_of(r, 0).planes[0].samples;
    std::sort(samples.begin(), samples.end());
    return {samples[samples.size() / 100], samples[samples.size() - 1 - samples.size() / 100]};
}

TEST(ClipMaker, BlackAndWhiteLieWhereAsked) {
    Recipe r = small();
    r.picture.luma_bandwidth_mhz = 6.7;  // next to no ringing, which would widen the two areas' codes
    EXPECT_THAT(extremes(r), testing::Pair(testing::AllOf(testing::Ge(63), testing::Le(64)),
                                           testing::AllOf(testing::Ge(940), testing::Le(941))));
    r.levels.black_code = 32.425, r.levels.white_code = 221.25;
    const auto [black, white] = extremes(r);
    EXPECT_NEAR(black, 32.425 * 4, 1.5);
    EXPECT_NEAR(white, 221.25 * 4, 1.5);
}

TEST(ClipMaker, ClippedSamplesAreCountedExactly) {
    Recipe r = small();
    r.noise.snr_db = 40;
    r.levels.white_code = 245;
    const auto open = frame_of(r, 1);
    r.levels.clip_low_code = 17, r.levels.clip_high_code = 230;
    const auto cut = frame_of(r, 1);
    std::int64_t low = 0, high = 0, at_low = 0, at_high = 0;
    for (std::size_t i = 0; i < open.planes[0].samples.size(); ++i) {
        const int before = open.planes[0].samples[i], after = cut.planes[0].samples[i];
        low += before<68, high += before> 920;
        at_low += after == 68, at_high += after == 920;
        EXPECT_EQ(after, std::clamp(before, 68, 920));
    }
    EXPECT_GT(low, 100);
    EXPECT_GT(high, 100);
    EXPECT_EQ(cut.tally.clipped_low, low);
    EXPECT_EQ(cut.tally.clipped_high, high);
    EXPECT_EQ(cut.tally.at_low, at_low);
    EXPECT_EQ(cut.tally.at_high, at_high);
    EXPECT_EQ(cut.tally.samples, 192 * 144);
}

TEST(ClipMaker, ReservedCodesAreNeverUsed) {
    for (const int bits : {8, 10}) {
        Recipe r = small();
        r.bit_depth = bits;
        r.noise.snr_db = 3;
        for (const auto& plane : frame_of(r, 0).planes) {
            const auto [low, high] = std::minmax_element(plane.samples.begin(), plane.samples.end());
            EXPECT_EQ(*low, bits == 8 ? 1 : 4);
            EXPECT_EQ(*high, bits == 8 ? 254 : 1019);
        }
    }
}

TEST(ClipMaker, ChromaOf420IsTakenFieldByField) {
    Recipe r = small();
    const auto full = frame_of(r, 2);
    r.chroma = ChromaSampling::C420;
    const auto half = frame_of(r, 2);
    ASSERT_EQ(half.planes[1].height, 72);
    for (int y = 0; y < 72; ++y)  // rows y, counted in each field: 2 rows of the same field make one
        for (int x = 0; x < 96; ++x) {
            const int parity = y % 2, pair = y / 2, upper = 4 * pair + parity, lower = upper + 2;
            EXPECT_NEAR(half.planes[1].row(y)[x], (full.planes[1].row(upper)[x] + full.planes[1].row(lower)[x]) / 2.0,
                        1.0);
        }
}

TEST(ClipMaker, ChromaOf411HasAQuarterOfTheSamples) {
    Recipe r = small();
    const auto full = frame_of(r, 2);
    r.chroma = ChromaSampling::C411;
    const auto quarter = frame_of(r, 2);
    ASSERT_EQ(quarter.planes[2].width, 48);
    ASSERT_EQ(quarter.planes[2].height, 144);
    for (int x = 1; x < 48; ++x) {
        const auto* row = full.planes[2].row(70);
        EXPECT_NEAR(quarter.planes[2].row(70)[x], (row[2 * x - 1] + 2 * row[2 * x] + row[2 * x + 1]) / 4.0, 1.0);
    }
}

TEST(ClipMaker, CutsChangeTheScene) {
    Recipe r = small();
    r.picture.still = true;
    r.picture.cuts_s = {0.2};
    ClipMaker maker(r);
    ClipFrame a, b, c;
    maker.make(0, a), maker.make(4, b), maker.make(5, c);
    EXPECT_EQ(a.planes[0].samples, b.planes[0].samples);
    EXPECT_GT(difference(b.planes[0], c.planes[0]).first, 100);
}

TEST(ClipMaker, StampsKeepGapsCloseThemAndJitter) {
    Recipe r = small();
    r.faults.missing_frames = {3};
    EXPECT_DOUBLE_EQ(frame_of(r, 3).time_s, 4 / 25.0);
    EXPECT_EQ(frame_of(r, 3).source_index, 4);
    r.faults.stamps_keep_gap = false;
    EXPECT_DOUBLE_EQ(frame_of(r, 3).time_s, 3 / 25.0);
    r.stamps.jitter_rms_ms = 2;
    r.stamps.rounding_ms = 1;
    r.duration_s = 40;
    ClipMaker maker(r);
    ClipFrame frame;
    double sum = 0, last = -1;
    for (int n = 0; n < 900; ++n) {
        maker.make(n, frame);
        EXPECT_GT(frame.time_s, last);
        EXPECT_NEAR(frame.time_s * 1e3, std::round(frame.time_s * 1e3), 1e-6);
        last = frame.time_s;
        sum += std::pow(frame.time_s - n / 25.0, 2);
    }
    // 2 ms and the rounding's 1 / sqrt 12 ms; the RMS of 900 values errs by 2.4 %, times 4
    EXPECT_NEAR(std::sqrt(sum / 900) * 1e3, std::sqrt(4 + 1 / 12.0), 0.2);
}

TEST(ClipMaker, TruthTellsWhatWasDone) {
    Recipe r = small();
    r.faults.missing_frames = {2};
    r.faults.repeated_fields = {9};
    r.levels.clip_high_code = 200;
    ClipMaker maker(r);
    ClipFrame frame;
    while (maker.next(frame)) {
    }
    const Truth truth = maker.truth();
    EXPECT_EQ(truth.frame_count, 9);
    EXPECT_EQ(truth.tally.samples, 9 * 192 * 144);
    EXPECT_GT(truth.tally.clipped_high, truth.tally.samples / 50);
    EXPECT_THAT(truth.repeated_fields, testing::ElementsAre(7));
    EXPECT_EQ(truth.missing_frames.at(0).before_frame, 2);
    EXPECT_FALSE(truth.flicker);
}

TEST(ClipMaker, RefusesWhatCannotBe) {
    const auto refused = [](auto change) {
        Recipe r = small();
        change(r);
        try {
            ClipMaker maker(r);
        } catch (const quantity::InputError& e) {
            return e.input();
        }
        return std::string("made");
    };
    EXPECT_EQ(refused([](Recipe&) {}), "made");
    EXPECT_EQ(refused([](Recipe& r) { r.raster.height = 145; }), "raster");
    EXPECT_EQ(refused([](Recipe& r) { r.raster.width = 0; }), "raster");
    EXPECT_EQ(refused([](Recipe& r) { r.faults.repeated_fields = {1}; }), "faults.repeated_fields");
    EXPECT_EQ(refused([](Recipe& r) { r.faults.repeated_fields = {20}; }), "faults.repeated_fields");
    EXPECT_EQ(refused([](Recipe& r) { r.faults.missing_frames = {10}; }), "faults.missing_frames");
    EXPECT_EQ(refused([](Recipe& r) { r.levels.clip_high_code = 200.1; }), "levels.clip_high_code");
    EXPECT_EQ(refused([](Recipe& r) { r.picture.motion_px = std::nan(""); }), "picture.motion_px");
    EXPECT_EQ(refused([](Recipe& r) { r.bit_depth = 12; }), "bit_depth");
    EXPECT_EQ(refused([](Recipe& r) { r.name = "../up"; }), "name");
    EXPECT_EQ(refused([](Recipe& r) { r.screen.emplace(), r.lamp.emplace(); }), "lamp");
    EXPECT_EQ(refused([](Recipe& r) { r.scan = Scan::Progressive, r.pulldown = {2, 3}; }), "pulldown");
}

}  // namespace
}  // namespace guardband::testsignal
