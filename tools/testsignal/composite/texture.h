#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "testsignal/composite/line_canvas.h"
#include "testsignal/composite/recipe.h"
#include "testsignal/composite/scan_pattern.h"
#include "testsignal/scene.h"

namespace guardband::testsignal {

/// The moving scene of clips, read off line by line at any moment of the line.
class Texture {
public:
    Texture(const CompositeRecipe& recipe, const ScanPattern& pattern);

    /// Adds a line's luma, 0 to 1, and U and V as shares of the range from black to white. The chroma canvases may
    /// stand elsewhere in time than that of luma.
    void draw(std::int64_t field, std::int64_t row, LineCanvas& luma, LineCanvas& u, LineCanvas& v);

private:
    void read_row(const float* row, int width, LineCanvas& canvas, double factor) const;
    void render(std::int64_t field, bool top);

    const CompositeSystem system_;
    double field_rate_hz_;
    std::unique_ptr<Scene> scene_;
    Picture picture_;
    std::optional<std::int64_t> rendered_;  ///< field; −1 is one: the recording may begin before field 0
    std::vector<std::array<float, 16>> kernel_;
};

}  // namespace guardband::testsignal
