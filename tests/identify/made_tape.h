#pragma once

#include <map>
#include <optional>
#include <random>
#include <string>
#include <vector>

#include "identify/observation.h"
#include "table/table.h"

namespace guardband::support {

/// Makes tapes whose format is known, and what someone would note of them. Shares the table with the engine, and the
/// form of an observation; what a tape looks like is worked out here by itself, with the formulas of a handbook.
///
/// Formats are drawn evenly, then modes. A figure that the table has is met within its tolerance and within what
/// figures of its standing are off by; one that it lacks is drawn after another format's. Readings err by the usual
/// scatter of their kind; of a hundred three are blunders: half of them anywhere, a quarter half or twice, a quarter
/// misread by 10 to 40 %.
class TapeMaker {
public:
    TapeMaker(const table::Table& table, unsigned seed);

    struct Tape {
        const table::TapeFormat* format = nullptr;
        const table::Mode* mode = nullptr;
        std::string address;
        std::map<std::string, std::optional<double>> quantities;  ///< by fact key; nothing: the tape has no such thing
        std::string label, shell, colour;
        double length_m = 0, thickness_um = 0, hub_mm = 0;
        double drum = 1;  ///< rate of the drum that plays it, over its own
    };

    Tape tape();
    /// A tape of this mode.
    Tape tape_of(const table::TapeFormat& format, const table::Mode& mode);
    /// What is noted of one kind; nothing where the tape has no such thing and nobody blunders.
    std::optional<identify::Observation> observed(const Tape& tape, identify::Kind kind, bool may_blunder = true);
    /// Kinds in random order.
    std::vector<identify::Kind> shuffled_kinds();
    std::size_t below(std::size_t count) { return std::uniform_int_distribution<std::size_t>(0, count - 1)(random_); }

    /// True if the table has the figure that a kind is predicted from.
    bool is_documented(const table::TapeFormat& format, const table::Mode& mode, identify::Kind kind) const;

    /// What a kind would read on a tape of this mode by the table's figures alone, at 1 mm/s and 1 mm where a setting
    /// matters; nothing where the table lacks one, or for cassettes.
    std::optional<double> nominal(const table::TapeFormat& format, const table::Mode& mode, identify::Kind kind) const;

private:
    double normal() { return std::normal_distribution<double>()(random_); }
    bool happens(double share) { return std::bernoulli_distribution(share)(random_); }
    std::optional<double> quantity(const table::TapeFormat& format, const table::Mode& mode, const std::string& key);
    double after_others(const std::string& key);
    double met(const table::Fact& fact, const std::string& key);
    void choose_cassette(Tape& tape);
    void choose_colour(Tape& tape);
    std::optional<double> true_value(const Tape& tape, identify::Kind kind, double played_mm_s, double diameter_mm);
    double blunder(double value, double lowest, double highest);
    std::string word(const Tape& tape, identify::Kind kind, bool wrong);

    const table::Table& table_;
    std::mt19937 random_;
    std::vector<std::pair<const table::TapeFormat*, const table::Mode*>> with_speed_;
    std::map<std::string, std::vector<double>> known_;  ///< by fact key, one for each format and system
    std::vector<std::string> labels_, shells_;
    std::vector<double> lengths_, thicknesses_, hubs_;
};

}  // namespace guardband::support
