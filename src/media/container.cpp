#include "media/container.h"

#include <algorithm>
#include <utility>

#include "quantity/errors.h"

namespace guardband::media {
namespace {

using quantity::InputError;

/// Bounds on how far a file is looked into before its streams are known. Uncompressed pictures of 8192 × 8192 need more
/// than the usual 5 MB.
constexpr const char* probe_bytes = "20000000";
constexpr const char* probe_duration_us = "5000000";
constexpr const char* most_streams = "200";

class Options {
public:
    Options(std::initializer_list<std::pair<const char*, const char*>> options) {
        for (const auto& [name, value] : options) libav().av_dict_set(&entries_, name, value, 0);
    }
    ~Options() { libav().av_dict_free(&entries_); }
    Options(const Options&) = delete;
    Options& operator=(const Options&) = delete;
    AVDictionary** get() { return &entries_; }

private:
    AVDictionary* entries_ = nullptr;
};

/// A file may name others; none of them is opened.
int refuse_to_open(AVFormatContext*, AVIOContext**, const char*, int, AVDictionary**) { return AVERROR(EPERM); }

Handle<AVFormatContext> open_container(const FileInput& input, const ContainerWords& words) {
    AVFormatContext* context = own(libav().avformat_alloc_context()).release();
    context->pb = input.context();
    context->io_open = refuse_to_open;
    Options options{{"protocol_whitelist", "none"},
                    {"probesize", probe_bytes},
                    {"analyzeduration", probe_duration_us},
                    {"max_streams", most_streams}};
    // Without a name the content alone decides what a file is, so that neither `clip.txt` nor a text file named
    // `clip.avi` misleads.
    const int result =
        libav().avformat_open_input(&context, "", nullptr, options.get());  // frees the context if it fails
    if (result == AVERROR(EPERM))
        throw InputError(input.path(), "only names other files, which are not opened for it",
                         std::string("name ") + words.itself);
    if (result < 0)
        throw InputError(input.path(),
                         std::string("is not ") + words.kind + " that can be read (" + av_error_text(result) + ")",
                         std::string("check that it is ") + words.content + " and whole");
    return Handle<AVFormatContext>(context);
}

}  // namespace

Container::Container(const std::string& path, const std::atomic<bool>& stop, const ContainerWords& words)
    : input_(path, stop), format_(open_container(input_, words)) {
    libav().avformat_find_stream_info(format_.get(), nullptr);  // what it can't find, the first frame tells or lacks
}

bool Container::has_sound() const {
    return std::ranges::any_of(streams(),
                               [](const AVStream* s) { return s->codecpar->codec_type == AVMEDIA_TYPE_AUDIO; });
}

std::string Container::name() const {
    const std::string names = format_->iformat->name;  // `matroska,webm`
    return names.substr(0, names.find(','));
}

void Container::choose(const AVStream& stream, const AVStream* beside) {
    chosen_ = stream.index;
    beside_ = beside == nullptr ? -1 : beside->index;
    for (AVStream* other : streams())
        if (other != &stream && other != beside) other->discard = AVDISCARD_ALL;
}

bool Container::read(AVPacket& packet) {
    while (true) {
        libav().av_packet_unref(&packet);
        const int result = libav().av_read_frame(format_.get(), &packet);
        if (result == AVERROR(EAGAIN)) continue;
        if (result < 0) {
            if (result != AVERROR_EOF && result != AVERROR_EXIT)
                trouble_ = "reading stopped before the end of the file (" + av_error_text(result) + ")";
            else if (last_cut_short_)
                trouble_ = "the file ends in the middle of a frame";
            return false;
        }
        if (packet.stream_index != chosen_ && packet.stream_index != beside_) continue;
        last_cut_short_ = (packet.flags & AV_PKT_FLAG_CORRUPT) != 0;
        return true;
    }
}

std::uint64_t Container::position() const {
    // What avio_tell does: where the file stands, less what is buffered and not yet taken.
    const AVIOContext& io = *input_.context();
    return static_cast<std::uint64_t>(std::max<std::int64_t>(0, io.pos - (io.buf_end - io.buf_ptr)));
}

std::optional<double> declared_duration_s(const AVFormatContext& format, const AVStream& stream) {
    if (stream.duration > 0 && stream.duration != AV_NOPTS_VALUE)
        return static_cast<double>(stream.duration) * av_q2d(stream.time_base);
    if (format.duration > 0 && format.duration != AV_NOPTS_VALUE)
        return static_cast<double>(format.duration) / AV_TIME_BASE;
    return std::nullopt;
}

}  // namespace guardband::media
