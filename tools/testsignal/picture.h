#pragma once

#include <cstddef>
#include <vector>

namespace guardband::testsignal {

/// Samples of one kind, rows from top to bottom.
template <typename T>
struct PlaneOf {
    int width = 0, height = 0;
    std::vector<T> samples;

    PlaneOf() = default;
    PlaneOf(int w, int h, T value = T{}) { resize(w, h, value); }
    void resize(int w, int h, T value = T{}) {
        width = w, height = h;
        samples.resize(static_cast<std::size_t>(w) * static_cast<std::size_t>(h), value);
    }
    T* row(int y) { return samples.data() + static_cast<std::size_t>(y) * static_cast<std::size_t>(width); }
    const T* row(int y) const { return samples.data() + static_cast<std::size_t>(y) * static_cast<std::size_t>(width); }
};

using FloatPlane = PlaneOf<float>;

/// Which rows of the frame a picture holds: all, or those of one field.
enum class Rows { All, Top, Bottom };

/// A field or a frame as signals: luma 0 (black) to 1 (white), overshoots beyond; colour difference -0.5 to 0.5, at
/// half the samples per row.
struct Picture {
    FloatPlane luma, cb, cr;
};

}  // namespace guardband::testsignal
