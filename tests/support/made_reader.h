#pragma once

#include <functional>

#include "media/clip.h"
#include "testsignal/clip_maker.h"

namespace guardband::support {

/// A clip made from a recipe, in memory, colour included, as a whole pass reads it.
class MadeReader final : public media::ClipReader {
public:
    /// Changes a frame before it is handed over; `index` counts in the clip.
    using Edit = std::function<void(testsignal::ClipFrame& frame, int index)>;

    explicit MadeReader(const testsignal::Recipe& recipe, Edit edit = {});

    const media::ClipInfo& info() const override { return info_; }
    std::optional<media::Frame> next() override;
    std::string trouble() const override { return {}; }
    std::uint64_t bytes_read() const override { return 0; }

    testsignal::Truth truth() const { return maker_.truth(); }

private:
    testsignal::ClipMaker maker_;
    Edit edit_;
    media::ClipInfo info_;
    testsignal::ClipFrame made_;
    std::int64_t count_ = 0;
};

}  // namespace guardband::support
