#include "measure/field_order.h"

#include "measure/interlace_evidence.h"

namespace guardband::measure {

bool bottom_comes_first(const ClipContext& context) {
    const InterlaceEvidence::Order order = context.interlace.order();
    if (order == InterlaceEvidence::Order::Unknown)
        return context.info.declared_order == media::DeclaredOrder::BottomFirst;
    return order == InterlaceEvidence::Order::BottomFirst;
}

}  // namespace guardband::measure
