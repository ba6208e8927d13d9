#include "measure/clip/declared_order.h"

#include <fmt/format.h>

namespace guardband::measure {
namespace {

using media::DeclaredOrder;
using quantity::Event;
using quantity::Figure;

/// Changes this close together, as where progressive and interlaced coding alternate, are one event.
constexpr std::int64_t join_frames = 50;

std::string in_words(DeclaredOrder order) {
    switch (order) {
        case DeclaredOrder::TopFirst:
            return "top first";
        case DeclaredOrder::BottomFirst:
            return "bottom first";
        case DeclaredOrder::Progressive:
            return "progressive";
        case DeclaredOrder::Unknown:
            break;
    }
    return "unknown";
}

}  // namespace

DeclaredFieldOrder::DeclaredFieldOrder(const ClipContext& context)
    : clock_(context.info.time_base), changes_(join_frames) {}

void DeclaredFieldOrder::see(const media::Frame& frame, const FrameFeatures&) {
    const double time_s = clock_.time_s(frame);
    const DeclaredOrder order = frame.declared_order;
    if (order == DeclaredOrder::Unknown) return;
    if (last_ != DeclaredOrder::Unknown && order != last_)
        changes_.note(frame.index, time_s, 1, static_cast<double>(order));
    last_ = order;
}

void DeclaredFieldOrder::finish(quantity::Figures& figures, std::vector<Event>& events) {
    if (last_ == DeclaredOrder::Unknown)
        figures.add("field_order_declared", Figure::unknown("the file says nothing of the order of its fields"));
    else
        figures.add("field_order_declared", Figure::text(changes_.all().empty() ? in_words(last_) : "changes"));
    for (const Occurrence& o : changes_.all()) {
        Event event;
        event.kind = "declared order";
        event.severity = quantity::Severity::Warning;
        event.time_s = o.time_s;
        event.frame = o.frame;
        event.count = o.count;
        event.what = o.count == 1
                         ? "the file declares " + in_words(static_cast<DeclaredOrder>(static_cast<int>(o.largest))) +
                               " from here on"
                         : fmt::format("the field order that the file declares changes {} times", o.count);
        events.push_back(std::move(event));
    }
}

}  // namespace guardband::measure
