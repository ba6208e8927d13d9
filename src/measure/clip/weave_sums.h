#pragma once

#include <vector>

#include "measure/features.h"

namespace guardband::measure {

/// What the combing of one frame, or of several together, says of when its fields were taken.
///
/// With E(t, b) the comb energy of a top and a bottom field, a frame (T, B) and the frame before (T', B'), the sums
/// are, over cells of the picture,
///
///     motion = E(T, B') + E(B, T') − E(T, B) − E(T', B')      order = E(B, T') − E(T, B')
///
/// each cell divided by the sum of its four energies. Detail and noise that stand still add the same to all four and
/// drop out. As long as combing grows with the square of the time between two fields, order ÷ motion is +1 where the
/// top field came first, −1 where the bottom field did, 0 where both show the same instant, and ±2 where two instants
/// have been woven that belong to successive frames. Where combing grows more slowly, as with large motion, the first
/// three still hold, since E(T, B) then equals the lesser of the two others.
struct WeaveSums {
    double motion = 0, order = 0;
    /// Sums of squares and products over bands of the picture; bands are taken as independent, cells beside each other
    /// are not (line jitter).
    double motion_squares = 0, order_squares = 0, products = 0;
    /// Sum of what the cells' motion counts, and of that times (c₂ − c₁) ÷ (c₂ + c₁), where c₁ and c₂ are the mean
    /// squared changes of a field to the one before and to the one before that. Noise changes as much in one step as in
    /// two, so it gives about 0; motion more.
    double weight = 0, growth = 0;
    int frames = 0;

    WeaveSums& operator+=(const WeaveSums& other);

    /// Order over motion; see above.
    double ratio() const { return order / motion; }
    /// Motion over its own scatter between bands: about normal, of standard deviation 1, where nothing moves.
    double significance() const;
    /// Mean growth of change from one step to two, −1 … 1, where there is motion.
    double mean_growth() const { return weight > 0 ? growth / weight : 0; }
    /// Mean share of motion in the cells' energies where there is motion.
    double mean_share() const { return weight > 0 ? motion / weight : 0; }
    /// Order over its own scatter between bands.
    double order_significance() const;
    /// Standard error of `ratio`, from the scatter between bands.
    double ratio_error() const;
};

/// Computes the sums of one frame after another; keeps the combing of the frame before.
class WeaveSummer {
public:
    /// @returns the sums of this frame with the one before; all zero for the first two frames
    WeaveSums add(const FrameFeatures& features);

private:
    Grid<float> own_before_;
};

}  // namespace guardband::measure
