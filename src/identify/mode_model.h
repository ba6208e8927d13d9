#pragma once

#include <array>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "identify/judgement.h"
#include "identify/kinds.h"
#include "identify/mixture.h"
#include "identify/words.h"
#include "table/table.h"

namespace guardband::identify {

/// What is believed of the logarithm of one quantity of a tape before any observation.
struct Belief {
    bool known = false;   ///< the table has a figure; else the spread of all formats' figures stands in
    bool absent = false;  ///< the mode has no such thing: fixed heads have no slanted tracks
    Mixture prior;
    std::size_t number = 0;  ///< beliefs of one group that are the same have the same number, from 0 on

    /// The logarithm of the table's figure, or the middle of the spread.
    double centre() const;
};

/// A length of tape that a tape of a format may be.
struct Cassette {
    const table::TapeFormat* owner = nullptr;
    const table::Grade* grade = nullptr;  ///< nullptr: a grade that the table does not list
    std::vector<std::string> names;       ///< plain labels
    std::string shell;                    ///< empty if not known
    std::size_t shell_at = 0;             ///< its place in `Models::shells`
    Normal length_m, thickness_um, hub_mm;
    bool knows_length = false, knows_hub = false;  ///< the table gives it
};

/// The cassettes that a format's tapes may be, and how likely each is in one scanning standard.
struct Cassettes {
    std::vector<Cassette> all;
    std::vector<double> log_shares;
    std::vector<std::string> shells;     ///< of the format
    std::vector<std::size_t> shells_at;  ///< their places in `Models::shells`
};

/// What one mode leads to expect of everything that can be observed.
struct ModeModel {
    const table::TapeFormat* format = nullptr;
    const table::Mode* mode = nullptr;
    std::string address;
    Belief speed;                            ///< mm/s
    std::array<Belief, group_count> groups;  ///< the quantity of each group; none for Speed, Cassette and Colour
    double log_field_rate = 0, log_line_rate = 0;
    std::array<double, colour_words.size()> colours{};  ///< probability of each word
    std::shared_ptr<const Cassettes> cassettes;
};

/// All modes of a table with what they lead to expect. Worked out once; holds pointers into the table.
///
/// Figures: the table's value, spread by its tolerance or the rounding of its digits and by how much its standing can
/// be leaned on; a small share, larger for figures from memory, is given to the figure being wrong. Where the table
/// has none, half the belief stands close around the figures that other formats have, and half is spread over and
/// beyond their range, so that a missing figure neither speaks for a format nor against it. A track pitch that is not
/// printed is worked out from speed, rate and angle.
class Models {
public:
    /// @param region  where the tape comes from: decides how likely colour systems are; may be nullptr
    explicit Models(const table::Table& table, const table::Region* region = nullptr);

    const table::Table& table() const { return *table_; }
    const std::vector<ModeModel>& all() const { return models_; }
    const Judgement& judgement() const { return judgement_; }
    const KindData& data(Kind kind) const { return data_[static_cast<std::size_t>(kind)]; }
    const std::vector<std::string>& labels() const { return labels_; }
    const std::vector<std::string>& shells() const { return shells_; }
    /// Probability that a shell is seen as another, by their places: blunders go to those of like size first.
    double shell_seen(std::size_t true_shell, std::size_t seen) const { return shell_seen_[true_shell][seen]; }
    std::size_t shell_place(const std::string& shell) const;

private:
    const table::Table* table_;
    Judgement judgement_;
    std::vector<ModeModel> models_;
    std::vector<KindData> data_;
    std::vector<std::string> labels_, shells_;
    std::vector<std::vector<double>> shell_seen_;
};

}  // namespace guardband::identify
