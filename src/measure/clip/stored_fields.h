#pragma once

#include <algorithm>
#include <cstddef>
#include <vector>

#include "measure/clip/displacement_store.h"
#include "measure/clip/mean_square.h"

namespace guardband::measure {

/// Which field of a store.
struct StoredField {
    std::size_t frame, parity;
    std::size_t stretch;  ///< of the clip, one of at most `most_stretches`
};

/// Goes through all fields of a store, from the first to the last. @param function  takes the lines and a `StoredField`
template <typename Function>
void each_field(const DisplacementStore& store, const Function& function) {
    const std::size_t stretches = std::min(most_stretches, store.frames());
    for (std::size_t i = 0; i < store.frames(); ++i)
        for (std::size_t parity = 0; parity < 2; ++parity)
            function(store.frame(i)[parity], StoredField{i, parity, i * stretches / store.frames()});
}

}  // namespace guardband::measure
