#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "measure/clip/edge_filter.h"
#include "media/clip.h"

namespace guardband::measure {

/// Displacement of one line from one kind of evidence; nothing known while the weight is 0.
struct LineEvidence {
    float place_px = 0;
    float weight = 0;  ///< 1 / variance, per squared sample
};

/// Finds the picture's two edges in each line of a field and from them how far the line is displaced.
///
/// Method: where the picture first rises above blanking, from either end, `EdgeFilter` places the edge. The distance of
/// the two edges is the same in all lines; lines in which it is right are sure. In the others the edge counts that lies
/// where the lines around would have it (a dark picture hides an edge, or shows one further in). What noise there is,
/// the blanking level and the rise of the edges are taken from the clip itself; the variances are scaled by how the two
/// edges of the sure lines differ, which holds everything that a line's displacement doesn't.
///
/// Needs at least three samples of blanking beside an edge, and sixty lines that show both edges or, failing that, a
/// few fields that show one and the same. Displacements are against a fixed place that no measurement can tell.
class PictureEdges {
public:
    /// @param black_code  where blanking should lie, 8-bit codes
    PictureEdges(const media::PictureFormat& format, double black_code);
    ~PictureEdges();

    /// @param parity  0: the frame's rows 0, 2, 4 …; 1: the others
    /// @param out     one per line of the field, displacement in samples
    void see(const media::Frame& frame, int parity, std::vector<LineEvidence>& out);

    /// Displacements of the latest field's lines by either edge alone, where both are sure; elsewhere not a number.
    /// Their errors have nothing to do with each other.
    void pairs(std::vector<float>& left_px, std::vector<float>& right_px) const;

    /// Whether edges have been found, and what they look like.
    bool found() const { return has_base_ && fields_ >= learning_fields; }

private:
    struct Line {
        std::array<std::optional<EdgeFit>, 2> edges;  ///< left; right, mirrored
        std::array<float, 2> moved{};                 ///< displacement by each edge, if there
        float chosen = 0;
        int side = none;  ///< whose displacement was chosen: 0, 1, both or none
    };
    static constexpr int both = 2, none = -1;
    static constexpr std::int64_t learning_fields = 8;

    /// Reads rows of either sample size.
    class Rows;

    /// Filters for one rise, noise and course of the picture, by how lively the picture is beside the edge.
    struct FilterBank;

    std::optional<EdgeFit> find(const Rows& rows, int y, int side) const;
    std::optional<EdgeFit> fit(const Rows& rows, int y, int side, float guess) const;
    void learn_blanking(const Rows& rows);
    static std::optional<double> commonest(std::vector<float>& values, std::size_t fewest);
    void learn_base();
    void choose_sure();
    bool other_in_sight(std::size_t side, float moved_px) const;
    void choose_rest(const Rows& rows);
    std::optional<float> expected(int line) const;
    void calibrate();
    void learn_rise(const Rows& rows);
    void learn_course(const Rows& rows);
    void renew_filters();
    double misfit(const Rows& rows, const FilterBank& bank) const;
    void take_moved();
    void give(std::vector<LineEvidence>& out) const;

    media::PictureFormat format_;
    double black_code_;
    bool has_blanking_ = false, has_base_ = false;
    double blanking_ = 16, noise_ = 2;
    std::array<double, 2> base_{};  ///< places of the edges of a line that is not displaced, each from its own end
    bool both_sides_ = false;
    std::unique_ptr<FilterBank> filters_;
    std::size_t rise_index_;
    std::int64_t fields_ = 0, aligned_fields_ = 0;  ///< seen with edges; and since both were aligned anew
    PictureCourse course_;
    std::vector<double> squared_differences_;  ///< of the pictures' samples, by distance; with noise
    double pairs_ = 0;
    std::vector<Line> lines_;
    std::vector<float> spare_;
    std::vector<float> free_px_;                  ///< until the base is found: what both edges of a line leave free
    std::array<std::vector<float>, 2> places_{};  ///< likewise
    int fields_without_base_ = 0;
    double scale_ = 1;  ///< what stated variances are multiplied by
    double difference_squares_ = 0, stated_ = 0;
};

}  // namespace guardband::measure
