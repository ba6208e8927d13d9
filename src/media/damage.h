#pragma once

#include <memory>

#include "media/libav.h"

namespace guardband::media {

/// Which frames a decoder complained about. Decoders conceal most damage (a slice whose checksum fails is filled from
/// the frame before) and only say so in their log; this ties those words to the frame that was being decoded. In place
/// of the log nothing is ever printed.

/// Takes over the log of FFmpeg's libraries, once. @param loaded  the table, which `libav()` can't give while it is
/// being filled
void listen_for_damage(const Libav& loaded);

/// Makes a decoder mark its frames; to be called before it is opened. `decoder.opaque` and `decoder.get_buffer2` belong
/// to this from then on.
class DamageMarks {
public:
    explicit DamageMarks(AVCodecContext& decoder);
    ~DamageMarks();
    DamageMarks(const DamageMarks&) = delete;
    DamageMarks& operator=(const DamageMarks&) = delete;

    struct State;

private:
    std::unique_ptr<State> state_;
};

/// Did the decoder report an error while it decoded this frame?
bool is_damaged(const AVFrame& frame);

}  // namespace guardband::media
