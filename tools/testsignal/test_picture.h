#pragma once

#include <vector>

#include "testsignal/picture.h"
#include "testsignal/recipe.h"

namespace guardband::testsignal {

/// A still test picture as an electronic generator makes it: bars of colour, bursts of frequencies, a pulse and a bar,
/// a ramp; limited to the recipe's bandwidths, its colour late by the recipe's delay. It fills the raster from edge to
/// edge.
///
/// Bars: white, yellow, cyan, green, magenta, red, blue and black in equal stripes, levels as ITU-R BT.471 names them.
/// `SplitBars`: seven stripes of 75 % over two thirds, from grey to blue; the same turned round over a twelfth; -I,
/// white, Q and black below (SMPTE EG 1, from memory).
class TestPicture {
public:
    /// @param margin_px  samples to be drawn beyond either edge: the outermost stripes go on
    TestPicture(const Recipe& recipe, int margin_px);

    /// All rows, or those of one field.
    void render(Rows rows, Picture& out) const;

private:
    struct Line {
        std::vector<float> luma, cb, cr;
    };
    struct Zone {
        double until = 1;  ///< share of the height
        Line line;
    };
    struct Colour {
        double luma, cb, cr;
    };
    static Colour colour(double red, double green, double blue);
    static Colour bar(int index, double white, double level);
    template <typename Signal>
    Line line(const Signal& signal) const;
    Line stripes(const std::vector<Colour>& colours) const;
    void add(double until, Line line) { zones_.push_back({until, std::move(line)}); }
    void draw();
    void draw_split_bars();
    Line multiburst() const;
    Line pulse_and_bar() const;

    Recipe recipe_;
    int margin_px_;
    std::vector<Zone> zones_;  ///< from the top
};

}  // namespace guardband::testsignal
