#include "support/made_reader.h"

#include "support/clip_frames.h"

namespace guardband::support {
namespace {

media::DeclaredOrder declared(const testsignal::Recipe& recipe) {
    switch (testsignal::order_to_declare(recipe)) {
        case testsignal::DeclaredOrder::TopFirst:
            return media::DeclaredOrder::TopFirst;
        case testsignal::DeclaredOrder::BottomFirst:
            return media::DeclaredOrder::BottomFirst;
        case testsignal::DeclaredOrder::Progressive:
            return media::DeclaredOrder::Progressive;
        case testsignal::DeclaredOrder::Unknown:
            break;
    }
    return media::DeclaredOrder::Unknown;
}

}  // namespace

MadeReader::MadeReader(const testsignal::Recipe& recipe, Edit edit) : maker_(recipe), edit_(std::move(edit)) {
    const testsignal::Recipe& r = maker_.recipe();
    info_.picture.width = r.raster.width, info_.picture.height = r.raster.height;
    info_.picture.bit_depth = r.bit_depth;
    info_.picture.chroma_shift_x = r.chroma == testsignal::ChromaSampling::C411 ? 2 : 1;
    info_.picture.chroma_shift_y = r.chroma == testsignal::ChromaSampling::C420 ? 1 : 0;
    info_.declared_frame_rate = r.raster.frame_rate;
    info_.time_base = quantity::Rational(r.raster.frame_rate.denominator(), r.raster.frame_rate.numerator());
    info_.declared_order = declared(r);
}

std::optional<media::Frame> MadeReader::next() {
    if (!maker_.next(made_)) return std::nullopt;
    if (edit_) edit_(made_, static_cast<int>(count_));
    media::Frame frame = make_frame(
        info_.picture, {made_.planes[0].samples, made_.planes[1].samples, made_.planes[2].samples}, count_++);
    frame.declared_order = info_.declared_order;
    return frame;
}

}  // namespace guardband::support
