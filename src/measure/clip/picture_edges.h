#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "measure/clip/edge_doubt.h"
#include "measure/clip/edge_memory.h"
#include "measure/clip/edge_rows.h"
#include "measure/clip/edge_shape.h"
#include "measure/clip/resting_edges.h"
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
/// the blanking level and the rise of the edges `EdgeShape` takes from the clip itself; the variances are scaled by how
/// the two edges of the sure lines differ, which holds everything that a line's displacement doesn't.
///
/// Needs at least three samples of blanking beside an edge, 4.7 µs of it at most, and sixty lines that show both edges
/// or, failing that, eight fields in which sixteen do so that lie at different places, all of them equally far apart,
/// or in which one edge goes on from line to line and lies at one place in a third of them. Displacements are against a
/// fixed place that no measurement can tell.
class PictureEdges {
public:
    /// @param black_code, codec_error  as `EdgeShape` has them
    PictureEdges(double black_code, double codec_error);

    /// @param parity  0: the frame's rows 0, 2, 4 …; 1: the others
    /// @param out     one per line of the field, displacement in samples
    void see(const media::Frame& frame, int parity, std::vector<LineEvidence>& out);

    /// Displacements of the latest field's lines by either edge alone, where both are sure; elsewhere not a number.
    /// Their errors have nothing to do with each other.
    /// @param variance  of either, geometric mean, by what each edge states whatever the other says
    void pairs(std::vector<float>& left_px, std::vector<float>& right_px, std::vector<float>& variance) const;

    /// Where the latest field's lines would lie by the edge that wasn't chosen, where two say different things;
    /// elsewhere of weight 0.
    void others(std::vector<LineEvidence>& out) const;

    /// Of each of the latest field's lines, whether the picture beside the edges that place it hasn't moved.
    void rests(std::vector<char>& out) const;

    /// How many lines of the latest field the scene has gone down since the frame before, if that is known.
    std::optional<float> moved_down(int parity) const { return memory_.moved_down(static_cast<std::size_t>(parity)); }

    /// Whether edges have been found, and what they look like.
    bool found() const { return has_base_ && shape_.fields() >= learning_fields; }

private:
    static constexpr std::int64_t learning_fields = 8;
    /// Two edges agree within this, samples, beyond their own errors.
    static constexpr float agreement_px = 0.7F;
    static constexpr double no_base = -1e6;

    /// What the lines of a few fields show, until the base is found.
    struct BaseEvidence {
        std::vector<float> free_px;  ///< what both edges of a line leave free
        std::vector<float> left_px;  ///< and where the left one of them lies
        std::array<std::vector<float>, 2> places;
        std::array<double, 2> straight{};  ///< lines whose edge lies where it lies in the line above
        double lines = 0;                  ///< looked at
        int fields = 0;
    };

    std::optional<EdgeFit> find(const EdgeRows& rows, int y, int side) const;
    std::optional<EdgeFit> fit(const EdgeRows& rows, int y, int side, float guess) const;
    static std::optional<double> commonest(std::vector<float>& values, std::size_t fewest);
    void gather_for_base();
    void learn_base();
    void learn_base_of_one_side();
    std::optional<double> free_where_lines_wander();
    void choose_sure();
    bool other_in_sight(std::size_t side, float moved_px) const;
    bool is_islet(int line, std::size_t side, float gate_px) const;
    void drop_islets(float gate_px);
    void choose_rest(const EdgeRows& rows, const std::vector<float>& before);
    std::optional<float> expected(int line) const;
    std::optional<float> expected_as_before(int line, const std::vector<float>& before) const;
    void keep_chosen(std::vector<float>& before) const;
    void rechoose();
    void calibrate();
    void forget_calibration();
    void take_moved();
    float weight(const EdgeLine& line, std::size_t side, float place_px) const;
    void give(std::vector<LineEvidence>& out) const;

    EdgeShape shape_;
    EdgeDoubt doubt_;
    EdgeMemory memory_;
    RestingEdges resting_;
    bool has_base_ = false;
    std::array<double, 2> base_{};  ///< places of the edges of a line that is not displaced, each from its own end
    bool both_sides_ = false;
    std::int64_t aligned_fields_ = 0;  ///< since both edges were aligned anew
    std::vector<EdgeLine> lines_;
    std::array<std::vector<float>, 2> before_{};  ///< where the lines of either parity lay a frame ago
    std::vector<float> spare_;
    BaseEvidence evidence_;
    double scale_ = 1;  ///< what stated variances are multiplied by
    double difference_squares_ = 0, stated_ = 0;
};

}  // namespace guardband::measure
