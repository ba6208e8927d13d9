#pragma once

#include <array>
#include <cstdint>
#include <deque>
#include <map>
#include <optional>
#include <string>
#include <tuple>
#include <vector>

#include "measure/waveform/line_cells.h"
#include "quantity/figure.h"

namespace guardband::measure {

/// `dropouts_per_minute`, `dropout_length_median` (µs) of a waveform and an event for each: pieces of lines of which
/// the signal was lost, one for each line that is damaged. Kinds: `bright`, `dark`, `noisy`, `colour` (only the
/// subcarrier is gone), `sync` (lines whose sync did not come).
///
/// Method: the picture of each line in cells of half a microsecond; a piece of 4 µs or more counts whose level,
/// or whose steps from sample to sample, stand out in the same way from the line before, from one of the four after
/// that is like it, and from the same line in the frames before and after. Of those of 5 µs and more that differ from
/// the picture by 0.3 of white, or carry noise of 0.14 of white in a picture without colour, at least 0.95 are found
/// down to 36 dB S/N, and as many of those found are true; their ends are right to a cell. Can't see: what is as bright
/// as all around it and no noisier; the recording's first field and last frame; losses of more than four lines, but for
/// their sync; the first and the last lines of a field, and its blanking. Can't tell: a thin level thing that is there
/// for one frame alone.
class SignalLosses {
public:
    /// @param white  range from blanking to white, about, in the samples' unit
    /// @param lines_per_frame  0 if it is not known   @param lines_alike  1; 2 where colour comes by turns (SECAM)
    SignalLosses(const FieldLayout& layout, double rate_hz, const SyncShape& sync, double white, int lines_per_frame,
                 int lines_alike);

    void see_line(const VideoLine& line, const SampleWindow& window);
    /// @param head_switch_line  lines before field sync where heads change over, which is no loss
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events,
                std::optional<double> head_switch_line);

private:
    struct Loss {
        double time_s = 0, start_us = 0, length_us = 0;
        std::int64_t field = -1, lines = 1;
        int in_field = -1;
        unsigned kinds = 0;
    };
    /// A loss that the next frame must not show.
    struct Waiting {
        Loss loss;
        std::size_t begin = 0;
        Cells cells;  ///< of the piece
    };
    /// What a line of the frame showed last.
    struct Kept {
        Cells cells;  ///< above blanking; losses filled in
        std::vector<Waiting> waiting;
    };

    bool counts(std::int64_t field, int in_field) const;
    void see_picture(const VideoLine& after, const SampleWindow& window);
    double place_of(const VideoLine& line) const;
    double place_of_last(const VideoLine& after) const;
    float blanking() const;
    void note_missing_sync(const VideoLine& before, const VideoLine& after);
    void add_line(PictureLine line);
    void end_field();
    void search();
    std::vector<unsigned> marks(const Kept& kept) const;
    unsigned strong_kinds(const Cells& piece, std::size_t begin) const;
    void take_pieces(const std::vector<unsigned>& marks, Kept& kept);
    void confirm(Kept& kept, const Cells& now);
    std::vector<Loss> all_losses(std::optional<double> head_switch_line);
    bool touches(const Loss& piece, const Loss& sync) const;
    static std::string kinds_text(const std::vector<Loss>& all);
    quantity::Event event_of(const Loss& loss) const;

    FieldLayout layout_;
    CellReader reader_;
    double rate_hz_, sync_width_, line_us_, field_lines_;
    float white_;
    std::size_t stride_;                           ///< lines from one to the next that is of the same colour
    std::optional<VideoLine> last_, before_last_;  ///< `sync.lead` where the line begins, its sync damaged or not
    std::array<float, 5> porches_{};               ///< levels of the latest back porches, in a ring
    std::deque<PictureLine> lines_;  ///< of one field: `stride_` before, the one that is searched, those after
    std::map<std::tuple<bool, int, std::int64_t>, Kept> frame_;  ///< by kind of field, line, and line's colour
    std::vector<Loss> losses_;
    std::int64_t beyond_ = 0;  ///< losses that are only counted
    std::int64_t searched_ = 0, seen_ = 0, porch_count_ = 0;
};

}  // namespace guardband::measure
