#pragma once

#include <optional>
#include <span>
#include <vector>

#include "measure/waveform/first_look.h"
#include "quantity/figure.h"

namespace guardband::measure {

/// Notices that a recording goes on as something else: turned over, in another TV system or colour, or as no video at
/// all. What is measured would mix both.
///
/// Method: a first look again, at an eighth of a second every two seconds, and where lines fail to come; a change
/// counts when two looks in a row agree. Memory: that stretch.
class ChangeWatch {
public:
    ChangeWatch(const FirstLook& first, const media::SoundInfo& info, const table::Table& table);

    /// @param samples  that follow those before   @param clock  what has counted their lines
    void see(std::span<const float> samples, const LineClock& clock);
    /// Events of kind `changed`.
    const std::vector<quantity::Event>& events() const { return events_; }

private:
    struct State {
        bool video = true, inverted = false;
        const table::Scanning* scanning = nullptr;
        const table::Colour* colour = nullptr;
        bool operator==(const State&) const = default;
    };
    State state_of(const FirstLook& look) const;
    std::string text_of(const State& state) const;
    bool is_in_doubt(const LineClock& clock);
    void look();
    void note(const State& now);

    const media::SoundInfo& info_;
    const table::Table& table_;
    State state_;
    std::optional<State> other_;  ///< what the look before showed, if not `state_`
    double line_samples_;
    std::int64_t place_ = 0, next_look_, last_sure_ = 0;
    std::int64_t window_start_ = 0, faults_before_ = 0, lines_before_ = 0;
    std::vector<float> stretch_;
    std::string instead_;  ///< what there is where there is no video
    std::vector<quantity::Event> events_;
};

}  // namespace guardband::measure
