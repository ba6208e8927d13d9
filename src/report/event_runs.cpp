#include "report/event_runs.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <string_view>

namespace guardband::report {
namespace {

using quantity::Event;
using Members = std::vector<std::size_t>;

constexpr std::size_t fewest_even = 5;
/// Distances are even if they differ by this share, or by a frame.
constexpr double even_share = 0.1, even_frames = 1;
/// Of one kind: so many are told one by one; of more, the first ones.
constexpr std::size_t most_alone = 8, alone_of_many = 4;

class Grouping {
public:
    explicit Grouping(std::span<const Event> events) : events_(events) {}

    std::vector<EventRun> runs() {
        std::map<std::string_view, Members> kinds;
        for (std::size_t i = 0; i < events_.size(); ++i) kinds[events_[i].kind].push_back(i);
        for (const auto& [kind, members] : kinds) add(members);
        std::ranges::sort(runs_, {}, [](const EventRun& run) { return run.members.front(); });
        return std::move(runs_);
    }

private:
    double distance(std::size_t a, std::size_t b) const {
        return static_cast<double>(*events_[b].frame - *events_[a].frame);
    }

    /// How many, from the first of them on, come back evenly.
    std::size_t even_from(std::span<const std::size_t> members) const {
        const auto no_frame = std::ranges::find_if(members, [this](std::size_t i) { return !events_[i].frame; });
        const auto known = static_cast<std::size_t>(no_frame - members.begin());
        std::size_t count = std::min<std::size_t>(known, 2);
        for (; count >= 2 && count < known; ++count) {
            const double mean = distance(members[0], members[count - 1]) / static_cast<double>(count - 1);
            const double next = distance(members[count - 1], members[count]);
            if (std::abs(next - mean) > std::max(even_frames, even_share * mean)) break;
        }
        return count;
    }

    EventRun even_run(std::span<const std::size_t> members) const {
        EventRun run{{members.begin(), members.end()}, {}, true};
        run.every_frames = distance(members.front(), members.back()) /
                           static_cast<double>(std::max<std::size_t>(2, members.size()) - 1);
        for (std::size_t i = 1; i < members.size(); ++i)
            run.exact = run.exact && distance(members[i - 1], members[i]) == *run.every_frames;
        return run;
    }

    void add(std::span<const std::size_t> members) {
        Members left;
        for (std::size_t i = 0; i < members.size();) {
            const std::size_t even = even_from(members.subspan(i));
            if (even >= fewest_even)
                runs_.push_back(even_run(members.subspan(i, even))), i += even;
            else
                left.push_back(members[i++]);
        }
        const std::size_t alone = left.size() > most_alone ? alone_of_many : left.size();
        for (std::size_t i = 0; i < alone; ++i) runs_.push_back({{left[i]}, {}, false});
        left.erase(left.begin(), left.begin() + static_cast<std::ptrdiff_t>(alone));
        if (!left.empty()) runs_.push_back({std::move(left), {}, false});
    }

    std::span<const Event> events_;
    std::vector<EventRun> runs_;
};

}  // namespace

std::vector<EventRun> event_runs(std::span<const Event> events) { return Grouping(events).runs(); }

}  // namespace guardband::report
