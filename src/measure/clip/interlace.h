#pragma once

#include <array>
#include <cstdint>
#include <deque>

#include "measure/clip/field_offset.h"
#include "measure/clip/weave_sums.h"
#include "measure/clip_measurement.h"
#include "measure/interlace_evidence.h"

namespace guardband::measure {

/// How many frames showed what. A frame that says nothing of its own may do so together with others like it.
struct WeaveVotes {
    std::int64_t top_first = 0, bottom_first = 0;  ///< frames whose two fields show two moments, by which comes first
    std::int64_t progressive = 0;                  ///< frames whose two fields show the same moment
    std::int64_t hidden = 0;  ///< frames with an order that is small beside what else changes; no votes

    std::int64_t interlaced() const { return top_first + bottom_first; }
    std::int64_t all() const { return interlaced() + progressive; }
};

/// `scan`, text: `interlaced` if the two fields of a frame show different moments, `progressive` if the same, `mixed`
/// if some frames do one and some the other, as films transferred with a pull-down. `field_order`, text: `top first` or
/// `bottom first`, the field that was taken first as the pictures show it, whatever the file says.
///
/// Method: four ways of pairing two fields, see `WeaveSums`; each frame votes whose motion and time order stand out of
/// their own scatter between bands of the picture. Frames of little motion are summed, every fifth together, until they
/// do (a 2:3 pull-down repeats after five frames). Cuts don't vote. Brightness that differs from field to field drops
/// out. Motion in which both figures rest must change the picture more over two frames than over one, which noise
/// doesn't. Where the two fields lie beside each other so far that it upsets the votes, `FieldOffset` decides, or says
/// that it can't be told.
///
/// Needs some three frames' worth of motion. Right at 30 dB S/N from 0.25 pixel per field over the whole picture, or
/// where 2 % of it moves; the test gives the table. Can't tell: still pictures; motion so fast that successive fields
/// have nothing in common; fine horizontal lines that move straight up or down by about a third of a frame line per
/// field, which look like the other order. Where everything moves alike, without captured blanking, an offset of the
/// fields by as much as they move in a frame (half as much, if progressive) shows the same pictures as another order
/// without.
class Interlace final : public ClipMeasurement, public InterlaceEvidence {
public:
    explicit Interlace(const ClipContext& context) : is_lossy_(context.info.is_lossy) {}
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

    Scan scan() const override;
    Order order() const override;
    /// Of all frames seen, as if the clip ended here.
    WeaveVotes votes() const;

private:
    /// A frame that waits until those after it have shown whether it begins a new scene.
    struct Waiting {
        WeaveSums sums;
        double change = 0;
        std::int64_t index = 0;
        bool decided = false;
    };

    void decide(std::size_t which);
    bool is_cut(std::size_t which) const;
    bool vote(const WeaveSums& sums, const WeaveSums& around);

    bool is_lossy_;  ///< then noise may hide an order that is there
    WeaveSummer summer_;
    FieldOffset offset_;
    std::deque<Waiting> window_;
    std::array<WeaveSums, 5> gathered_;  ///< by frame number modulo 5: frames that could not vote alone
    WeaveVotes votes_;
};

}  // namespace guardband::measure
