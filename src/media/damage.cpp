#include "media/damage.h"

#include <atomic>
#include <mutex>
#include <unordered_map>

#include "media/handle.h"

namespace guardband::media {

/// A decoder with frame threads is many contexts, copies of one, that share `opaque`; each works on one frame at a
/// time.
struct DamageMarks::State {
    std::mutex mutex;
    std::unordered_map<const AVCodecContext*, AVBufferRef*>
        at_work;  ///< the mark of the frame each context is decoding; ours
};

namespace {

using Mark = std::atomic<bool>;

Mark& mark_of(const AVBufferRef& buffer) { return *reinterpret_cast<Mark*>(buffer.data); }

DamageMarks::State* state_of(const AVCodecContext& decoder) { return static_cast<DamageMarks::State*>(decoder.opaque); }

/// FFmpeg's libraries log here. `source` is an object whose first member points to its class.
void heard(void* source, int level, const char* /*format*/, va_list /*arguments*/) {
    constexpr int severity_bits = 0xff;  // the rest is the colour of the message
    if (source == nullptr || (level & severity_bits) > AV_LOG_ERROR) return;
    if (*static_cast<const AVClass**>(source) != libav().avcodec_get_class()) return;
    const auto& decoder = *static_cast<const AVCodecContext*>(source);
    DamageMarks::State* state = state_of(decoder);
    if (state == nullptr) return;
    const std::lock_guard lock(state->mutex);
    if (const auto found = state->at_work.find(&decoder); found != state->at_work.end() && found->second != nullptr)
        mark_of(*found->second) = true;
}

/// The decoder asks for the samples of a new picture: from here on, its complaints are about this one.
int new_picture(AVCodecContext* decoder, AVFrame* frame, int flags) {
    const int result = libav().avcodec_default_get_buffer2(decoder, frame, flags);
    if (result < 0) return result;
    AVBufferRef* mark = libav().av_buffer_allocz(sizeof(Mark));
    AVBufferRef* ours = mark != nullptr ? libav().av_buffer_ref(mark) : nullptr;
    libav().av_buffer_unref(&frame->opaque_ref);
    frame->opaque_ref = mark;
    DamageMarks::State& state = *state_of(*decoder);
    const std::lock_guard lock(state.mutex);
    AVBufferRef*& at_work = state.at_work[decoder];
    libav().av_buffer_unref(&at_work);
    at_work = ours;
    return 0;
}

/// Frame threads may ask for pictures from their own threads; older versions had to be told that the callback can bear
/// it.
void allow_calls_from_any_thread([[maybe_unused]] AVCodecContext& decoder) {
#if LIBAVCODEC_VERSION_MAJOR < 60
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wdeprecated-declarations"
    decoder.thread_safe_callbacks = 1;
#pragma GCC diagnostic pop
#endif
}

}  // namespace

void listen_for_damage(const Libav& loaded) { loaded.av_log_set_callback(heard); }

DamageMarks::DamageMarks(AVCodecContext& decoder) : state_(std::make_unique<State>()) {
    decoder.opaque = state_.get();
    decoder.get_buffer2 = new_picture;
    allow_calls_from_any_thread(decoder);
}

DamageMarks::~DamageMarks() {
    for (auto& [decoder, mark] : state_->at_work) libav().av_buffer_unref(&mark);
}

bool is_damaged(const AVFrame& frame) {
    if (frame.decode_error_flags != 0 || (frame.flags & AV_FRAME_FLAG_CORRUPT) != 0) return true;
    return frame.opaque_ref != nullptr && mark_of(*frame.opaque_ref);
}

}  // namespace guardband::media
