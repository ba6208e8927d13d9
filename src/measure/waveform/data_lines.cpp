#include "measure/waveform/data_lines.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "measure/waveform/screen_signal.h"

namespace guardband::measure {
namespace {

using quantity::Figure;
using quantity::LineService;

/// Lines since the start of field sync, both ends included.
struct Lines {
    int from = 0, to = 0;
    bool hold(int in_field) const { return in_field >= from && in_field <= to; }
};

/// Where a service may stand: where its standard has it, a line more or less.
struct Places {
    Lines data, teletext, captions, screen, label, time_code;
    int first_number, second_number;  ///< of the first line of each field
};
constexpr Places places_625{{5, 23}, {5, 21}, {20, 22}, {21, 23}, {14, 16}, {5, 21}, 1, 314};
constexpr Places places_525{{5, 19}, {5, 18}, {16, 18}, {15, 17}, {1, 0}, {5, 17}, 4, 267};

constexpr std::array teletext_systems{DataService::TeletextB, DataService::TeletextA, DataService::TeletextC,
                                      DataService::TeletextD};

constexpr std::int64_t looks_before_rest = 300, rest_of_looks = 16;
constexpr std::int64_t rare = 100;              ///< one in so many lines that were looked at
constexpr std::int64_t fewest = 3;              ///< sightings of a service
constexpr std::int64_t found_in_noise = 200;    ///< teletext: one in so many lines, three times what noise gives
constexpr double least_right = 0.6;             ///< of what bears a check; of a caption's bytes chance gives half
constexpr double least_share_of_fields = 0.05;  ///< of captions
constexpr double least_share_of_word = 0.5;     ///< of the commonest word, of all sightings
constexpr double least_share_of_line = 0.05;    ///< of a line, of the service's commonest
constexpr std::size_t most_labels = 100;

std::size_t kind_of(const VideoLine& line) { return line.field->half_line ? 1 : 0; }

}  // namespace

/// A service that does not show is looked for now and then only: looking costs time.
bool DataLines::Sightings::is_worth_a_look() const {
    return tried < looks_before_rest || seen * rare > tried || tried % rest_of_looks == 0;
}

void DataLines::Sightings::note(int line, const VideoLine& at) {
    ++seen;
    ++lines[line];
    if (at.field->field != last_field) ++fields[kind_of(at)];
    last_field = at.field->field;
}

std::optional<int> DataLines::Sightings::commonest_word() const {
    const auto most = std::ranges::max_element(words, {}, [](const auto& entry) { return entry.second; });
    if (most == words.end() || seen < fewest ||
        static_cast<double>(most->second) < least_share_of_word * static_cast<double>(seen))
        return std::nullopt;
    return most->first;
}

DataLines::DataLines(const table::Scanning* scanning, double rate_hz, float depth) : rate_hz_(rate_hz) {
    if (scanning == nullptr) return;
    lines_per_frame_ = static_cast<int>(scanning->lines().value());
    known_ = lines_per_frame_ == 525 || lines_per_frame_ == 625;
    if (!known_) return;
    lines_525_ = lines_per_frame_ == 525;
    rows_.emplace(rate_hz, 1e6 / scanning->line_rate().value(), depth);
    slicer_.emplace(lines_525_);
    if (lines_525_) teletext_ = TeletextText(packet_bytes_525);
    const quantity::Rational frames_hz = lines_525_ ? quantity::Rational(30000, 1001) : quantity::Rational(25);
    const calc::TimeCodeRate plain = calc::time_code_rate(frames_hz, false);
    counted_ = plain.counted;
    run_.emplace(plain, lines_525_ ? std::optional(calc::time_code_rate(frames_hz, true)) : std::nullopt);
}

int DataLines::number_of(const VideoLine& line) const {
    const Places& at = lines_525_ ? places_525 : places_625;
    return line.in_field + (line.field->half_line ? at.second_number : at.first_number);
}

std::optional<SlicedLine> DataLines::slice(const DataRow& row, DataService service, const VideoLine& line) {
    Sightings& sightings = sliced_[service];
    const bool look = sightings.is_worth_a_look();
    ++sightings.tried;
    if (!look) return std::nullopt;
    auto found = slicer_->read(row, service);
    if (found) sightings.note(number_of(line), line);
    return found;
}

bool DataLines::see_captions(const DataRow& row, const VideoLine& line) {
    const auto pair = slice(row, DataService::Captions, line);
    if (pair) (row.second_field ? captions_second_ : captions_first_).see(*pair);
    return pair.has_value();
}

bool DataLines::see_screen_525(const DataRow& row, const VideoLine& line) {
    ++screen_525_.tried;
    const auto found = read_screen_signal_525(row, RowMeans(row));
    if (!found) return false;
    screen_525_.note(number_of(line), line);
    screen_525_.checks.add(found->right);
    if (found->right) ++screen_525_.words[found->word];
    return true;
}

bool DataLines::see_screen_625(const DataRow& row, const VideoLine& line) {
    const auto found = slice(row, DataService::WideScreen, line);
    if (!found) return false;
    const ScreenSignal signal = screen_signal_625(found->bytes[0], found->bytes[1]);
    Sightings& sightings = sliced_[DataService::WideScreen];
    sightings.checks.add(signal.right);
    if (signal.right) ++sightings.words[signal.word];
    return true;
}

bool DataLines::see_label(const DataRow& row, const VideoLine& line) {
    const auto found = slice(row, DataService::Label, line);
    if (!found) return false;
    const ProgrammeLabel label = programme_label(*found);
    const auto place = std::ranges::find(labels_, label);
    if (place == labels_.end() && labels_.size() == most_labels) return true;
    ++sliced_[DataService::Label].words[static_cast<int>(place - labels_.begin())];
    if (place == labels_.end()) labels_.push_back(label);
    return true;
}

bool DataLines::see_teletext(const DataRow& row, const VideoLine& line) {
    for (const DataService system : teletext_systems) {
        const auto packet = slice(row, system, line);
        if (packet && system == DataService::TeletextB) teletext_.see(*packet);
        if (packet) return true;
    }
    return false;
}

bool DataLines::see_time_code(const DataRow& row, const VideoLine& line) {
    ++time_code_.tried;
    const auto found = read_interval_time_code(row, RowMeans(row), counted_);
    if (!found) return false;
    time_code_.note(number_of(line), line);
    time_code_.checks.add(found->right);
    if (!found->right) return true;
    const double lines = static_cast<double>(line.number - line.in_field) + (line.field->half_line ? 0.5 : 0);
    run_->see(found->code, lines / lines_per_frame_, row.second_field, line.sync.lead / rate_hz_);
    return true;
}

void DataLines::see_line(const VideoLine& line, const SampleWindow& window) {
    const Places& at = lines_525_ ? places_525 : places_625;
    if (!known_ || !line.field || !at.data.hold(line.in_field)) return;
    if (line.field->field != last_field_) ++fields_[kind_of(line)];
    last_field_ = line.field->field;
    const auto row = rows_->read(line, window);
    if (!row) return;
    const int place = line.in_field;
    if (at.captions.hold(place) && see_captions(*row, line)) return;
    if (at.screen.hold(place) &&
        (lines_525_ ? see_screen_525(*row, line) : !row->second_field && see_screen_625(*row, line)))
        return;
    if (at.label.hold(place) && see_label(*row, line)) return;
    if (at.teletext.hold(place) && see_teletext(*row, line)) return;
    if (at.time_code.hold(place)) see_time_code(*row, line);
}

LineService DataLines::service(const char* name, const Sightings& sightings, const char* checked,
                               const CheckCount& checks, std::string says) const {
    LineService service;
    service.name = name;
    std::int64_t most = 0;
    for (const auto& [line, count] : sightings.lines) most = std::max(most, count);
    for (const auto& [line, count] : sightings.lines)
        if (static_cast<double>(count) >= least_share_of_line * static_cast<double>(most))
            service.lines.push_back(line);
    // Of the kind of field that it has no lines in, nothing is missing.
    for (std::size_t kind = 0; kind < fields_.size(); ++kind) {
        const bool stands_there =
            std::ranges::any_of(service.lines, [&](int line) { return (line > lines_per_frame_ / 2) == (kind == 1); });
        if (stands_there) service.fields += sightings.fields[kind], service.of_fields += fields_[kind];
    }
    if (checks.all > 0) {
        service.right = checks.share();
        service.checked = checked;
    }
    service.says = std::move(says);
    return service;
}

void DataLines::add_teletext(std::vector<LineService>& all) const {
    static const std::map<DataService, const char*> names{{DataService::TeletextA, "teletext, system A"},
                                                          {DataService::TeletextB, "teletext, system B"},
                                                          {DataService::TeletextC, "teletext, system C"},
                                                          {DataService::TeletextD, "teletext, system D"}};
    for (const DataService system : teletext_systems) {
        const auto found = sliced_.find(system);
        if (found == sliced_.end()) continue;
        const Sightings& sightings = found->second;
        if (sightings.seen < fewest || sightings.seen * found_in_noise < sightings.tried) continue;
        const bool is_b = system == DataService::TeletextB;
        all.push_back(service(names.at(system), sightings, "bytes", is_b ? teletext_.bytes() : CheckCount{},
                              is_b ? teletext_.words() : ""));
    }
}

void DataLines::add_captions(std::vector<LineService>& all) const {
    const auto found = sliced_.find(DataService::Captions);
    if (found == sliced_.end()) return;
    CheckCount bytes = captions_first_.bytes();
    bytes.right += captions_second_.bytes().right, bytes.all += captions_second_.bytes().all;
    const Sightings& sightings = found->second;
    if (sightings.seen < fewest || bytes.share() < least_right ||
        static_cast<double>(sightings.fields[0] + sightings.fields[1]) <
            least_share_of_fields * static_cast<double>(fields_[0] + fields_[1]))
        return;
    std::string words = captions_first_.words();
    if (words == CaptionText().words()) words = captions_second_.words();
    all.push_back(service("captions", sightings, "bytes", bytes, words));
}

void DataLines::add_words(std::vector<LineService>& all) const {
    const auto screen = sliced_.find(DataService::WideScreen);
    const Sightings& signal = screen == sliced_.end() ? screen_525_ : screen->second;
    if (const auto word = signal.commonest_word(); word && signal.checks.share() >= least_right)
        all.push_back(
            service("wide-screen signalling", signal, "lines", signal.checks, screen_words(*word, lines_525_)));
    const auto labels = sliced_.find(DataService::Label);
    if (labels == sliced_.end()) return;
    if (const auto word = labels->second.commonest_word()) {
        const ProgrammeLabel& label = labels_[static_cast<std::size_t>(*word)];
        all.push_back(service("programme label", labels->second, "", {},
                              fmt::format("network {:03X}; day {}, month {}, {:02}:{:02}", label.network, label.day,
                                          label.month, label.hour, label.minute)));
    }
}

void DataLines::add_time_code(std::vector<LineService>& all) const {
    if (!run_ || !run_->first()) return;
    all.push_back(service("time code", time_code_, "lines", time_code_.checks, run_->words()));
}

void DataLines::finish(quantity::Figures& figures, std::vector<quantity::Event>& events) const {
    if (!known_) {
        figures.add("data_lines", Figure::unknown("data is looked for on signals of 525 and 625 lines"));
        return;
    }
    if (fields_[0] + fields_[1] == 0) {
        figures.add("data_lines", Figure::unknown("no field sync was found to count lines by"));
        return;
    }
    std::vector<LineService> all;
    add_teletext(all);
    add_captions(all);
    add_words(all);
    add_time_code(all);
    figures.add("data_lines", Figure::services(std::move(all)));
    if (run_) events.insert(events.end(), run_->events().begin(), run_->events().end());
}

}  // namespace guardband::measure
