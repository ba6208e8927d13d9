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
    float on_motion = 0;     ///< how many of the five fields around have its like where one motion takes it
    float short_of_end = 0;  ///< by what share of the range from black to white its level falls short of that end
    float uneven = 0;        ///< how uneven it is along its length, beyond noise
    float unseen = 0;  ///< of what is beyond its ends, of lines beside and of frames, how many are missing, those near
                       ///< the edge of the picture in part
    float shortness = 0;     ///< from 0 at 3.6 µs to 1 at 1.8 µs
    bool is_short = false;   ///< below 3.85 µs
    bool is_lamp = false;    ///< bright, in a field that is lit more than those around: a lamp that flashes may show
    bool is_lossy = false;   ///< the file's codec went over all of it
    bool in_blocks = false;  ///< a codec went over small blocks, and may leave some of what moves in one field
};

// How the weights were got: all pieces that passed `FlashSearch`'s hard conditions were written out for the scenes of
// dropouts_bench, which has titles, sport, flashes and whip pans too, with bright and dark losses at 40 dB in FFV1 and
// in DV (true where they meet a loss), and for some of the clean ones of false_events_bench in FFV1 (all false), with
// one set of photographs. A logistic model was fitted to each codec's, a false piece counting as six, a clean scene's
// as twelve, short ones and lamps left out, none with a sign that makes no sense. Before that `other` and `time` were
// given by hand, since what passes a camera faster than any scene of the bench shows in those; after it `on_motion` was
// raised for the same reason and 0.7 taken off `at_best`. By hand too is what is for short ones, for blocks, for lamps
// and for levels short of an end. What is claimed was measured on other photographs.

/// Logarithm of how much likelier this is if a loss made it, by what is cheap to know: all but `alike`, `body` and
/// `on_motion`.
float quick_log_odds(const FlashEvidence& evidence);

/// The same by all of them.
float log_odds(const FlashEvidence& evidence);

/// What is at least this much likelier stays a loss if it moves, too.
constexpr float certain_log_odds = 8;

/// How much likelier a piece has to be, by what lately flashed: where much does that is all but a loss, more will be so
/// by chance; where most of what flashes is a loss, less need speak for the next.
class FlashPrior {
public:
    /// A piece below this is a thing before the camera.
    static constexpr float least_log_odds = -10;

    /// What a field shows, all its pieces one by one; then `close_field`.
    void add(float log_odds);
    /// Least logarithm of the odds with which a piece of this field is believed.
    float close_field();
    /// How much more is needed where no frame follows: what then speaks for a loss is how often they come. To be asked
    /// before what the field shows is added.
    float needed_in_last_frame() const;

private:
    double misses_ = 0, hits_ = 0;          ///< of the fields before, the older the less
    double new_misses_ = 0, new_hits_ = 0;  ///< of this one
};

}  // namespace guardband::measure
