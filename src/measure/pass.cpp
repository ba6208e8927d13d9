#include "measure/pass.h"

#include <algorithm>
#include <memory>
#include <thread>
#include <utility>

#include "measure/crew.h"
#include "measure/frame_clock.h"
#include "measure/interlace_evidence.h"
#include "measure/picture_gaps.h"
#include "measure/registry.h"
#include "measure/repeat_evidence.h"
#include "measure/stamp_evidence.h"

namespace guardband::measure {
namespace {

using Clock = std::chrono::steady_clock;

/// More threads than this gain nothing: by then a frame's features, which one thread computes, and its longest
/// measurement take longer than all the rest.
constexpr int most_threads = 4;

int thread_count(int asked) {
    const int processors = static_cast<int>(std::thread::hardware_concurrency());
    return std::clamp(asked > 0 ? asked : processors, 1, most_threads);
}

/// Passes questions on to the measurement that answers them; knows nothing until there is one.
class Evidence final : public InterlaceEvidence, public StampEvidence, public PictureGaps, public RepeatEvidence {
public:
    /// @returns whether the measurement answers questions
    bool offer(const ClipMeasurement& measurement) {
        const bool answers[] = {take(measurement, interlace_), take(measurement, stamps_),
                                take(measurement, picture_gaps_), take(measurement, repeats_)};
        return std::ranges::find(answers, true) != std::end(answers);
    }

    Scan scan() const override { return interlace_ != nullptr ? interlace_->scan() : Scan::Unknown; }
    Order order() const override { return interlace_ != nullptr ? interlace_->order() : Order::Unknown; }

    std::optional<MeasuredRate> frame_rate() const override {
        return stamps_ != nullptr ? stamps_->frame_rate() : std::nullopt;
    }
    std::span<const StampGap> stamp_gaps() const override {
        return stamps_ != nullptr ? stamps_->stamp_gaps() : std::span<const StampGap>{};
    }

    std::span<const PictureGap> gaps() const override {
        return picture_gaps_ != nullptr ? picture_gaps_->gaps() : std::span<const PictureGap>{};
    }

    std::span<const RepeatedStretch> repeated_stretches() const override {
        return repeats_ != nullptr ? repeats_->repeated_stretches() : std::span<const RepeatedStretch>{};
    }

private:
    template <typename Kind>
    static bool take(const ClipMeasurement& measurement, const Kind*& place) {
        const auto* found = dynamic_cast<const Kind*>(&measurement);
        if (found != nullptr) place = found;
        return found != nullptr;
    }

    const InterlaceEvidence* interlace_ = nullptr;
    const StampEvidence* stamps_ = nullptr;
    const PictureGaps* picture_gaps_ = nullptr;
    const RepeatEvidence* repeats_ = nullptr;
};

/// All measurements of the registry and what they ask each other. Of each frame those that answer questions see it
/// first, one after another; then the others in whatever order on all threads. So none of them asks one that is at
/// work, and each gets the answers it would get if all stood in one row.
class Measurements {
public:
    Measurements(const media::ClipInfo& info, const table::Table& table, int threads)
        : context_{info, table, evidence_, evidence_, evidence_, evidence_}, crew_(threads) {
        for (const ClipEntry& entry : clip_measurements()) {
            ClipMeasurement& made = *all_.emplace_back(entry.make(context_));
            (evidence_.offer(made) ? witnesses_ : others_).push_back(&made);
        }
    }

    void see(const media::Frame& frame, const FrameFeatures& features) {
        for (ClipMeasurement* witness : witnesses_) witness->see(frame, features);
        crew_.run(others_.size(), [&](std::size_t i) { others_[i]->see(frame, features); });
    }

    void hear(const media::SoundBlock& block) {
        for (const auto& measurement : all_) measurement->hear(block);
    }

    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) {
        for (const auto& measurement : all_) measurement->finish(figures, events);
        std::ranges::stable_sort(events, {}, &quantity::Event::time_s);
    }

private:
    Evidence evidence_;
    ClipContext context_;
    std::vector<std::unique_ptr<ClipMeasurement>> all_;
    std::vector<ClipMeasurement*> witnesses_, others_;
    Crew crew_;  // last: its threads end before what they use
};

/// Calls back now and then, not for every frame.
class Reporter {
public:
    Reporter(const PassOptions& options, const media::ClipReader& clip)
        : options_(options), clip_(clip), clock_(clip.info().time_base) {}

    void saw(const media::Frame& frame) {
        ++frames_;
        if (!options_.progress) return;
        time_s_ = clock_.time_s(frame);
        if (const auto now = Clock::now(); now >= next_) {
            next_ = now + options_.progress_interval;
            tell(now);
        }
    }

    void end() const {
        if (options_.progress) tell(Clock::now());
    }

private:
    void tell(Clock::time_point now) const {
        const std::chrono::duration<double> elapsed = now - start_;
        const double rate = elapsed.count() > 0 ? static_cast<double>(frames_) / elapsed.count() : 0;
        options_.progress({frames_, time_s_, clip_.bytes_read(), rate, elapsed});
    }

    const PassOptions& options_;
    const media::ClipReader& clip_;
    const Clock::time_point start_ = Clock::now();
    Clock::time_point next_ = start_;
    std::int64_t frames_ = 0;
    FrameClock clock_;
    double time_s_ = 0;
};

}  // namespace

ClipReport measure_clip(media::ClipReader& clip, const table::Table& table, const PassOptions& options) {
    Measurements measurements(clip.info(), table, thread_count(options.threads));
    FeatureExtractor extractor(clip.info().picture);
    Reporter reporter(options, clip);
    ClipReport report;
    clip.listen([&](const media::SoundBlock& block) { measurements.hear(block); });
    while (const auto frame = clip.next()) {
        measurements.see(*frame, extractor.extract(*frame));
        reporter.saw(*frame);
        ++report.frames;
    }
    reporter.end();
    report.info = clip.info();
    report.trouble = clip.trouble();
    measurements.finish(report.figures, report.events);
    return report;
}

}  // namespace guardband::measure
