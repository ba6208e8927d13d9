#pragma once

#include <array>
#include <cstddef>
#include <vector>

#include "measure/features.h"

namespace guardband::measure {

/// Noise of a tape without signal is at least this strong: 8-bit codes, RMS.
inline constexpr double strongest_tape_noise = 12;

/// Which rows of cells (8 rows of the field) of a parity are nothing but noise from edge to edge, by
/// `FrameFeatures::texture`.
///
/// Noise makes a row as unlike the next one of its field as that one's variance can make it, over the whole width,
/// is as strong all along it, differs from frame to frame as what is independent does, and is at least
/// `strongest_tape_noise` in RMS and much stronger than what is the same of the rest of the picture. Detail of pictures
/// goes on from row to row, the more the coarser it is, and a noisy tape is so everywhere.
class NoiseRows {
public:
    /// None in the first frame. Valid until the next call.
    const std::vector<bool>& find(const FrameFeatures& features, std::size_t parity);
    /// Of the parity found last: how unlike neighbouring rows are in each row of cells, mean square in codes of the
    /// clip, less what rows have that are no band. A row that noise covers by half has half of it.
    const std::vector<double>& strength() const { return strength_; }

private:
    std::vector<bool> noisy_;
    std::array<std::vector<bool>, 2> like_noise_before_;  ///< by parity: what the frame before looked like
    std::vector<double> unlike_, strength_;
};

}  // namespace guardband::measure
