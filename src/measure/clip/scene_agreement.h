#pragma once

#include <array>
#include <cstddef>
#include <utility>
#include <vector>

#include "measure/clip/displacement_store.h"
#include "measure/clip/mean_square.h"
#include "measure/clip/stored_fields.h"

namespace guardband::measure {

/// What the left and the right edge agree on only because the scene under them is the same for many fields.
///
/// Why: the picture under an edge shifts it by 10 to 20 ns. Where the scene moves straight up or down that goes along
/// the edge with it, so that a clip of a second or two holds a few dozen such errors and no more: their products, left
/// by right, came to 5 ns of nothing at 42 dB and to 12 ns at 30 dB.
///
/// Method: lines are held against the scene (`DisplacementStore::scene`). What the places by either edge have in common
/// over all fields that show the same row of the scene is locked to it; what is left is the time base's and noise. The
/// locked parts of left and right agree by chance, as much as those of rows far apart do: what their product comes to
/// is left out up to one such deviation, counts beyond three, and in part in between. What the two edges differ by,
/// which is error alone, tells the deviation; where few parts of the scene make most of the product, their scatter
/// does.
///
/// Lines at the top, which may bend, are judged by themselves.
///
/// Needs a scene that goes up or down by two lines of a field; else nothing is changed.
///
/// Can't tell: displacements that go along with the scene, or that stay with the field and change little over as many
/// lines as the scene travels. They count if they are larger than chance makes them; below, they read low.
class SceneAgreement {
public:
    /// @param end      first line of the fields that no longer counts
    /// @param squares  of places less `mean_px`, for what each counts
    SceneAgreement(const DisplacementStore& store, std::size_t end, double mean_px, const TwiceOrOnce& squares);

    /// Whether there is anything to take out.
    bool found() const { return weights_ > 0; }
    /// Places of a line by either edge, less `mean_px`, and less what they agree on by chance.
    std::pair<double, double> without(const StoredField& field, std::size_t line, double left_px,
                                      double right_px) const;

private:
    /// One row of the scene, lines of a field apart.
    struct Row {
        double weight = 0, squared_weights = 0;
        double left_px = 0, right_px = 0;  ///< what the places have in common, samples

        bool is_known() const;
    };
    /// Lines that bend at the top, and the others.
    static constexpr std::size_t zones = 2;
    static std::size_t zone_of(std::size_t line);
    /// Fields that show one scene.
    struct Window {
        std::size_t first = 0, end = 0;  ///< frames
        long first_row = 0;
        std::array<std::vector<Row>, zones> rows;
        double taken = 0;  ///< share that the rows have of what has nothing to do with the scene
    };

    void cut(std::size_t first, std::size_t end);
    long row_of(std::size_t frame, std::size_t parity, std::size_t line) const;
    void gather(Window& window, std::size_t end, double mean_px, const TwiceOrOnce& squares) const;
    static double locked_difference(const Window& window);
    static double chance(const std::vector<Row>& rows);
    double scatter_of_parts() const;
    void weigh_agreement();

    const DisplacementStore& store_;
    std::vector<Window> windows_;
    float other_field_ = 0;                  ///< time from the field with rows 0, 2, 4 … to the other, frames
    double weights_ = 0;                     ///< of all rows
    std::array<double, zones> share_{1, 1};  ///< of the locked part that is kept
};

}  // namespace guardband::measure
