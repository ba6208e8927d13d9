#include "measure/clip/stored_data_lines.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <string_view>

#include "measure/waveform/interval_time_code.h"

namespace guardband::measure {
namespace {

using quantity::Figure;
using quantity::LineService;

constexpr int raster_width = 720;
constexpr int row_count = 40;  ///< the 32 of D-10's raster and some more
constexpr std::int64_t first_frames = 5, frames_between_looks = 25;
constexpr double least_high = 0.15;  ///< of the range from black to white: a level that a tenth of the row lies above
constexpr int up = 2;                ///< samples of a `DataRow` to one of the raster
constexpr std::int64_t fewest_captions = 3;
constexpr double least_right = 0.6, least_share_of_fields = 0.05;  ///< of captions' bytes and fields
constexpr double least_share_of_row = 0.05;                        ///< of a row, of the service's commonest

bool is_525(const media::ClipInfo& info) { return info.declared_frame_rate == quantity::Rational(30000, 1001); }

bool is_625(const media::ClipInfo& info) { return info.declared_frame_rate == quantity::Rational(25); }

/// Time from sync to a row's first sample, µs, by the table's rasters of the scanning standard; nothing if none says.
std::optional<double> row_start_us(const table::Table& table, std::string_view scanning) {
    for (const table::Raster& raster : table.rasters) {
        const table::Fact* first = raster.facts.known("first_sample");
        const table::Fact* rate = raster.facts.known("sampling_rate");
        if (raster.scanning == scanning && first != nullptr && rate != nullptr) return *first->value / rate->in("MHz");
    }
    return std::nullopt;
}

}  // namespace

StoredDataLines::StoredDataLines(const ClipContext& context)
    : range_(luma_range(context.info.picture, context.table)),
      can_look_(context.info.picture.width == raster_width && (is_525(context.info) || is_625(context.info))),
      lines_525_(is_525(context.info)),
      levels_(raster_width),
      sorted_(raster_width),
      row_(DataRow::length),
      slicer_(lines_525_),
      holds_data_(static_cast<std::size_t>(std::clamp(context.info.picture.height, 0, row_count))) {
    const char* scanning = lines_525_ ? "525/60" : "625/50";
    const auto start_us = row_start_us(context.table, scanning);
    const table::Scanning* standard = context.table.find_scanning(scanning);
    can_look_ = can_look_ && start_us && standard != nullptr;
    if (!can_look_) return;
    first_ = DataRow::place(*start_us);
    const quantity::Rational rate = *context.info.declared_frame_rate;
    frame_rate_ = rate.value();
    run_.emplace(calc::time_code_rate(rate, false),
                 lines_525_ ? std::optional(calc::time_code_rate(rate, true)) : std::nullopt);
    data_row_.line_us = 1e6 / standard->line_rate().value();
    data_row_.levels = row_;
}

void StoredDataLines::Sightings::note(int row, std::int64_t frame) {
    ++rows[row];
    const auto parity = static_cast<std::size_t>(row % 2);
    fields[parity] += frame != last_frame[parity] ? 1 : 0;
    last_frame[parity] = frame;
}

/// Levels of a row of the picture as a row of data. @returns false if it is too dark to hold any
template <typename Sample>
bool StoredDataLines::take_row(const media::Frame& frame, int y) {
    const auto* codes = reinterpret_cast<const Sample*>(frame.planes[0].row(y));
    const auto black = static_cast<float>(range_.black);
    for (std::size_t x = 0; x < levels_.size(); ++x) sorted_[x] = levels_[x] = static_cast<float>(codes[x]) - black;
    const auto tenth = sorted_.begin() + raster_width * 9 / 10;
    std::nth_element(sorted_.begin(), tenth, sorted_.end());
    const float high = *tenth;
    if (high < least_high * (range_.white - range_.black)) return false;
    for (std::size_t i = 0; i < row_.size(); ++i) {  // straight between samples: data has no more than 2 MHz here
        const double x = (static_cast<double>(i) - first_) / up, whole = std::floor(x);
        const auto fraction = static_cast<float>(x - whole);
        const bool inside = whole >= 0 && whole + 1 < raster_width;
        const auto at = inside ? static_cast<std::size_t>(whole) : 0;
        row_[i] = inside ? (levels_[at] + fraction * (levels_[at + 1] - levels_[at])) / high : 0;
    }
    return true;
}

bool StoredDataLines::read_row(const media::Frame& frame, int y) {
    if (!(frame.format.bit_depth > 8 ? take_row<std::uint16_t>(frame, y) : take_row<std::uint8_t>(frame, y)))
        return false;
    data_row_.second_field = y % 2 == 1;
    if (const auto pair = slicer_.read(data_row_, DataService::Captions)) {
        captions_.note(y, frame.index);
        texts_.at(static_cast<std::size_t>(y % 2)).see(*pair);
        return true;
    }
    const auto found = read_interval_time_code(data_row_, RowMeans(data_row_), lines_525_ ? 30 : 25);
    if (!found) return false;
    time_code_.note(y, frame.index);
    time_code_.checks.add(found->right);
    const auto frames = static_cast<double>(frame.index);
    if (found->right) run_->see(found->code, frames, data_row_.second_field, frames / frame_rate_);
    return found->right;
}

void StoredDataLines::see(const media::Frame& frame, const FrameFeatures&) {
    if (!can_look_ || frame.format.width != raster_width) return;
    ++frames_;
    const bool at_all = frame.index < first_frames || frame.index % frames_between_looks == 0;
    const int rows = std::min(frame.format.height, static_cast<int>(holds_data_.size()));
    for (int y = 0; y < rows; ++y) {
        const auto at = static_cast<std::size_t>(y);
        if ((at_all || holds_data_[at]) && read_row(frame, y)) holds_data_[at] = true;
    }
}

LineService StoredDataLines::service(const char* name, const Sightings& sightings) const {
    LineService service;
    service.name = name;
    service.stored_rows = true;
    std::int64_t most = 0;
    for (const auto& [row, count] : sightings.rows) most = std::max(most, count);
    for (const auto& [row, count] : sightings.rows)
        if (static_cast<double>(count) >= least_share_of_row * static_cast<double>(most)) service.lines.push_back(row);
    for (const int parity : {0, 1})
        if (std::ranges::any_of(service.lines, [&](int row) { return row % 2 == parity; })) {
            service.fields += sightings.fields[static_cast<std::size_t>(parity)];
            service.of_fields += frames_;
        }
    return service;
}

void StoredDataLines::finish(quantity::Figures& figures, std::vector<quantity::Event>& events) {
    if (!can_look_) {
        figures.add("data_lines", Figure::unknown("looked for in clips 720 wide at 25 or 29.97 frames a second"));
        return;
    }
    std::vector<LineService> all;
    CheckCount bytes = texts_[0].bytes();
    bytes.right += texts_[1].bytes().right, bytes.all += texts_[1].bytes().all;
    const LineService captions = service("captions", captions_);
    if (bytes.all >= 2 * fewest_captions && bytes.share() >= least_right &&
        static_cast<double>(captions.fields) >= least_share_of_fields * static_cast<double>(captions.of_fields)) {
        all.push_back(captions);
        all.back().right = bytes.share(), all.back().checked = "bytes";
        const bool first_says = texts_[0].words() != CaptionText().words();
        all.back().says = texts_.at(first_says ? 0 : 1).words();
    }
    if (run_->first()) {
        all.push_back(service("time code", time_code_));
        all.back().right = time_code_.checks.share(), all.back().checked = "lines";
        all.back().says = run_->words();
    }
    figures.add("data_lines", Figure::services(std::move(all)));
    events.insert(events.end(), run_->events().begin(), run_->events().end());
}

}  // namespace guardband::measure
