#include "media/clip.h"

#include <fmt/format.h>

#include <atomic>
#include <cmath>
#include <future>
#include <thread>

#include "media/clip_sound.h"
#include "media/decoder.h"
#include "media/demuxer.h"
#include "media/frame_queue.h"
#include "media/picture.h"
#include "media/stretch.h"
#include "quantity/errors.h"

namespace guardband::media {
namespace {

using quantity::InputError;

/// A file whose first packets give no picture is given up after this many; streams that start between key frames need
/// some hundred.
constexpr int most_packets_before_first_frame = 1000;
/// A clip that ends this much before its header's duration is cut short. Where the duration may be the sound's,
/// pictures are allowed to end earlier than sound, as they often do by some tenths of a second.
constexpr double tolerated_shortfall_s = 0.25, tolerated_shortfall_with_sound_s = 1.0;

/// What went wrong on the way without ending it.
struct Losses {
    int frames = 0;  ///< that the decoder gave up
    std::optional<double> first_s;
    double last_s = 0;  ///< time of the last frame since the first
    bool last_damaged = false;
};

std::string describe_losses(const Losses& losses) {
    if (losses.frames == 0) return {};
    return fmt::format("{} could not be decoded, the first after {:.2f} s",
                       losses.frames == 1 ? "a frame" : fmt::format("{} frames", losses.frames),
                       losses.first_s.value_or(0));
}

std::string describe_shortfall(const Losses& losses, const ClipInfo& info) {
    const double tolerated_s = info.has_sound ? tolerated_shortfall_with_sound_s : tolerated_shortfall_s;
    if (!info.duration_s || losses.last_s + tolerated_s >= *info.duration_s) return {};
    return fmt::format("it ends after {:.2f} s, though its header says {:.2f} s", losses.last_s, *info.duration_s);
}

std::string describe_end(const Losses& losses, const std::string& of_container) {
    if (of_container.empty() && losses.last_damaged) return "its last frame is damaged, as if the file were cut short";
    return of_container;
}

std::string joined(std::initializer_list<std::string> parts) {
    std::string line;
    for (const std::string& part : parts)
        if (!part.empty()) line += (line.empty() ? "" : "; ") + part;
    return line;
}

std::optional<std::int64_t> stamp_of(const AVFrame& frame) {
    if (frame.pts != AV_NOPTS_VALUE) return frame.pts;
    if (frame.best_effort_timestamp != AV_NOPTS_VALUE) return frame.best_effort_timestamp;
    return std::nullopt;
}

DeclaredOrder order_of(const AVFrame& frame, DeclaredOrder of_stream) {
    // That a frame isn't flagged says little: FFV1 flags none, whatever the container declares.
    if (frame.interlaced_frame == 0) return of_stream;
    return frame.top_field_first != 0 ? DeclaredOrder::TopFirst : DeclaredOrder::BottomFirst;
}

/// Reads and decodes in a thread of its own; FFmpeg's decoders add theirs.
class ThreadedReader final : public ClipReader {
public:
    ThreadedReader(const std::string& path, const ReadOptions& options)
        : stretch_(options, path),
          demuxer_(path, stop_, options.sound),
          decoder_(demuxer_.video(), path, options.threads),
          pictures_(path),
          info_(demuxer_.info()),
          sound_(demuxer_, options, info_),
          time_base_(info_.time_base),
          stream_order_(info_.declared_order) {
        auto first_frame = first_frame_.get_future();
        thread_ = std::jthread([this] { produce(); });
        const First first = first_frame.get();
        info_.picture = first.format;
        // Raw DV says it in its frames alone.
        if (info_.declared_order == DeclaredOrder::Unknown) info_.declared_order = first.order;
    }

    ~ThreadedReader() override {
        stop_ = true;
        queue_.abandon();
    }

    ThreadedReader(const ThreadedReader&) = delete;
    ThreadedReader& operator=(const ThreadedReader&) = delete;

    const ClipInfo& info() const override { return info_; }
    std::optional<Frame> next() override;
    void listen(const std::function<void(const SoundBlock&)>& hear) override { hear_ = hear; }
    std::uint64_t bytes_read() const override { return position_; }

    std::string trouble() const override {
        const std::lock_guard lock(trouble_mutex_);
        return trouble_;
    }

private:
    /// What the clip's first frame tells before it is handed over.
    struct First {
        PictureFormat format;
        DeclaredOrder order = DeclaredOrder::Unknown;
    };

    void produce();
    void read_all();
    bool drain();
    bool hand_over(AVFrame& decoded);
    void note_time(const Frame& frame);
    void note_failures(int failures);
    void conclude();

    std::atomic<bool> stop_{false};
    Stretch stretch_;
    Demuxer demuxer_;
    Decoder decoder_;
    PictureMaker pictures_;
    ClipInfo info_;
    ClipSound sound_;
    std::function<void(const SoundBlock&)> hear_;
    // Copies for the thread: `info_` is the caller's.
    const quantity::Rational time_base_;
    const DeclaredOrder stream_order_;

    FrameQueue queue_;
    std::promise<First> first_frame_;
    bool started_ = false;
    std::int64_t handed_over_ = 0;
    std::optional<std::int64_t> first_pts_;
    Losses losses_;
    std::atomic<std::uint64_t> position_{0};
    mutable std::mutex trouble_mutex_;
    std::string trouble_;
    std::jthread thread_;  // last: it ends before what it uses
};

std::optional<Frame> ThreadedReader::next() {
    while (auto passage = queue_.pop()) {
        if (auto* frame = std::get_if<Frame>(&*passage)) return std::move(*frame);
        if (hear_) hear_(std::get<SoundBlock>(*passage));
    }
    return std::nullopt;
}

void ThreadedReader::produce() {
    try {
        read_all();
        conclude();
        queue_.finish();
    } catch (...) {
        if (!started_) first_frame_.set_exception(std::current_exception());
        queue_.finish(std::current_exception());
    }
}

void ThreadedReader::read_all() {
    const auto packet = own(libav().av_packet_alloc());
    int packets = 0;
    while (!stop_ && demuxer_.read(*packet)) {
        position_ = demuxer_.position();
        if (sound_.owns(*packet)) {
            sound_.take(packet.get(), queue_, started_);
            continue;
        }
        if (!decoder_.send(packet.get())) note_failures(1);
        if (!drain()) return;
        if (!started_ && ++packets >= most_packets_before_first_frame) break;
    }
    if (!decoder_.send(nullptr)) note_failures(1);
    drain();
    sound_.take(nullptr, queue_, started_);
}

/// @returns false when no more frames are wanted
bool ThreadedReader::drain() {
    int failures = 0;
    while (AVFrame* decoded = decoder_.receive(failures))
        if (!hand_over(*decoded)) return false;
    note_failures(failures);
    return !stop_;
}

bool ThreadedReader::hand_over(AVFrame& decoded) {
    const auto pts = stamp_of(decoded);
    const DeclaredOrder order = order_of(decoded, stream_order_);
    Frame frame = pictures_.make(decoded);
    if (!started_) {
        started_ = true;
        first_frame_.set_value({*pictures_.format(), order});
    }
    frame.pts = pts;
    frame.declared_order = order;
    note_time(frame);
    losses_.last_damaged = frame.damaged;
    const Stretch::Place place = stretch_.place(pts, time_base_);
    if (place == Stretch::Place::Before) return true;
    if (place == Stretch::Place::After) return false;
    frame.index = handed_over_++;
    return queue_.push(std::move(frame));
}

void ThreadedReader::note_time(const Frame& frame) {
    if (!frame.pts) return;
    if (!first_pts_) first_pts_ = frame.pts;
    losses_.last_s = (static_cast<double>(*frame.pts) - static_cast<double>(*first_pts_)) * time_base_.value();
}

void ThreadedReader::note_failures(int failures) {
    if (failures == 0) return;
    losses_.frames += failures;
    if (!losses_.first_s) losses_.first_s = losses_.last_s;
}

void ThreadedReader::conclude() {
    if (stop_) return;
    if (!started_)
        throw InputError(demuxer_.info().path, "none of its pictures could be decoded",
                         "check that it was copied whole");
    if (handed_over_ == 0)
        throw InputError(demuxer_.info().path,
                         fmt::format("it ends after {:.2f} s, before the start asked for", losses_.last_s),
                         "start earlier");
    if (!stretch_.is_everything()) return;
    const std::string line =
        joined({describe_end(losses_, demuxer_.trouble()), describe_shortfall(losses_, demuxer_.info()),
                describe_losses(losses_), sound_.trouble()});
    const std::lock_guard lock(trouble_mutex_);
    trouble_ = line;
}

}  // namespace

std::unique_ptr<ClipReader> open_clip(const std::string& path, const ReadOptions& options) {
    return std::make_unique<ThreadedReader>(path, options);
}

}  // namespace guardband::media
