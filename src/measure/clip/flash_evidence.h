#pragma once

namespace guardband::measure {

/// What speaks for and against a piece of a line being a loss rather than a thing before the camera. Shares are of the
/// height by which it stands out, without what noise alone explains.
struct FlashEvidence {
    float height = 0;  ///< 8-bit codes
    float other = 0;   ///< by how much it stands out more or less from the nearest row of the other field
    float own = 0;     ///< the same of the nearest lines of its own field that it takes no part in
    float time = 0;    ///< by how much less it stands out from the frame before or after
    float ends = 0;    ///< how much stands out beyond its ends, or is lacking there
    /// Of both ends, what lies beyond and is neither in the rows beside nor in the frames around.
    float unexplained = 0;
    float undecided = 0;  ///< of both ends, how much those contradict each other there
    float edges = 0;   ///< step at the place of an end in the rows beside: what hides a thing there shows in them too
    float beside = 0;  ///< how much the lines beside stand out between its ends
    float alike = 0;   ///< how many of the fields around have a thin thing as high and as long near: 0 to 3
    float body = 0;    ///< by how much more than half its length thin lines of its level cover, in two of the five
                       ///< fields around, together
    float on_motion = 0;  ///< how many of the five fields around have its like where one motion takes it
    float unseen = 0;  ///< of what is beyond its ends, of lines beside and of frames, how many are missing, those near
                       ///< the edge of the picture in part
    float shortness = 0;     ///< from 0 at 3.6 µs to 1 at 1.8 µs
    bool is_short = false;   ///< below 3.85 µs
    bool is_lamp = false;    ///< bright, in a field that is lit more than those around: a lamp that flashes may show
    bool is_lossy = false;   ///< the file's codec went over all of it
    bool in_blocks = false;  ///< a codec went over small blocks, and may leave some of what moves in one field
};

// How the weights were got: all pieces that passed `FlashSearch`'s hard conditions were written out for the clean
// scenes of tests/bench (false_events_bench; all false) and for those of dropouts_bench, which have titles, sport,
// flashes and whip pans too (true where they meet a loss), both with one set of photographs at 40 dB. A logistic model
// was fitted, a false piece counting as three, short ones left out. Then by hand: 0.5 off `at_best`, `per_other` raised
// and one weight for each field on a motion, for what passes a camera faster than any scene of the bench; and what is
// for short ones, for blocks and for lamps. Those for lossy files were fitted in the same way to bright and dark losses
// in DV of the same scenes, with 1.5 off `at_best` by hand. What is claimed was measured on other photographs.

/// Logarithm of how much likelier this is if a loss made it, by what is cheap to know: all but `alike`, `body` and
/// `on_motion`.
float quick_log_odds(const FlashEvidence& evidence);

/// The same by all of them.
float log_odds(const FlashEvidence& evidence);

/// What is at least this much likelier stays a loss if it moves, too.
constexpr float certain_log_odds = 10;

/// How much likelier a piece has to be, by what lately flashed: where much does that is all but a loss, more will
/// be so by chance.
class FlashPrior {
public:
    /// A piece below this is a thing before the camera, and its like says nothing of pieces above 0.
    static constexpr float least_log_odds = -10;

    /// What a field shows, all its pieces one by one; then `close_field`.
    void add(float log_odds);
    /// Least logarithm of the odds with which a piece of this field is believed.
    float close_field();
    /// How much more is needed where no frame follows: what then speaks for a loss is how often they come.
    float needed_in_last_frame() const;

private:
    double misses_ = 0, hits_ = 0;          ///< of the fields before, the older the less
    double new_misses_ = 0, new_hits_ = 0;  ///< of this one
};

}  // namespace guardband::measure
