#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <filesystem>
#include <vector>

#include "quantity/errors.h"
#include "testsignal/composite/sample_file.h"
#include "testsignal/libav.h"

namespace guardband::testsignal {
namespace {

using quantity::InputError;

constexpr float full_scale = 32767;

class FlacFile final : public SampleFileWriter {
public:
    FlacFile(std::uint32_t rate_hz, const std::string& path) : path_(path), part_(path + ".part") {
        AVFormatContext* raw = nullptr;
        must(avformat_alloc_output_context2(&raw, nullptr, "flac", nullptr), "no such container");
        file_.reset(raw);
        file_->flags |= AVFMT_FLAG_BITEXACT;
        must(avio_open(&file_->pb, part_.c_str(), AVIO_FLAG_WRITE), "can't be written");
        open_encoder(static_cast<int>(rate_hz));
        must(avformat_write_header(file_.get(), nullptr), "the header can't be written");
    }

    void put(std::span<const float> samples) override {
        for (const float sample : samples)
            waiting_.push_back(static_cast<std::int16_t>(std::lround(std::clamp(sample, -1.0F, 1.0F) * full_scale)));
        const auto block = static_cast<std::size_t>(encoder_->frame_size);
        std::size_t done = 0;
        for (; waiting_.size() - done >= block; done += block) send(waiting_.data() + done, block);
        waiting_.erase(waiting_.begin(), waiting_.begin() + static_cast<std::ptrdiff_t>(done));
    }

    void finish() override {
        if (!waiting_.empty()) send(waiting_.data(), waiting_.size());
        encode(nullptr);
        must(av_write_trailer(file_.get()), "can't be finished");
        file_.reset();
        std::filesystem::rename(part_, path_);
    }

private:
    void must(int result, const char* doing) const {
        if (result >= 0) return;
        char reason[AV_ERROR_MAX_STRING_SIZE] = {};
        av_strerror(result, reason, sizeof reason);
        throw InputError(path_, fmt::format("{}: {}", doing, reason), "check the folder and the space in it");
    }

    void open_encoder(int rate_hz) {
        const AVCodec* codec = avcodec_find_encoder(AV_CODEC_ID_FLAC);
        if (codec == nullptr) throw InputError(path_, "this FFmpeg has no FLAC encoder", "write WAV");
        encoder_.reset(avcodec_alloc_context3(codec));
        encoder_->sample_rate = rate_hz;
        encoder_->sample_fmt = AV_SAMPLE_FMT_S16;
        encoder_->time_base = {1, rate_hz};
        encoder_->flags |= AV_CODEC_FLAG_BITEXACT;
        encoder_->compression_level = 0;
        av_channel_layout_default(&encoder_->ch_layout, 1);
        must(avcodec_open2(encoder_.get(), codec, nullptr), "the encoder refuses such samples");
        stream_ = avformat_new_stream(file_.get(), nullptr);
        must(avcodec_parameters_from_context(stream_->codecpar, encoder_.get()), "the stream can't be described");
        stream_->time_base = encoder_->time_base;
    }

    void send(const std::int16_t* samples, std::size_t count) {
        const Libav<AVFrame> frame(av_frame_alloc());
        frame->nb_samples = static_cast<int>(count);
        frame->format = AV_SAMPLE_FMT_S16;
        frame->sample_rate = encoder_->sample_rate;
        av_channel_layout_default(&frame->ch_layout, 1);
        must(av_frame_get_buffer(frame.get(), 0), "no memory for samples");
        std::copy_n(samples, count, reinterpret_cast<std::int16_t*>(frame->data[0]));
        frame->pts = written_;
        written_ += static_cast<std::int64_t>(count);
        encode(frame.get());
    }

    void encode(const AVFrame* frame) {
        must(avcodec_send_frame(encoder_.get(), frame), "samples can't be encoded");
        while (true) {
            const int result = avcodec_receive_packet(encoder_.get(), packet_.get());
            if (result == AVERROR(EAGAIN) || result == AVERROR_EOF) return;
            must(result, "samples can't be encoded");
            packet_->stream_index = stream_->index;
            av_packet_rescale_ts(packet_.get(), encoder_->time_base, stream_->time_base);
            must(av_interleaved_write_frame(file_.get(), packet_.get()), "can't be written");
        }
    }

    std::string path_, part_;
    Libav<AVFormatContext> file_;
    Libav<AVCodecContext> encoder_;
    Libav<AVPacket> packet_{av_packet_alloc()};
    AVStream* stream_ = nullptr;
    std::vector<std::int16_t> waiting_;
    std::int64_t written_ = 0;
};

}  // namespace

std::unique_ptr<SampleFileWriter> open_flac_file(std::uint32_t header_rate_hz, const std::string& path) {
    return std::make_unique<FlacFile>(header_rate_hz, path);
}

}  // namespace guardband::testsignal
