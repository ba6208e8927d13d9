#pragma once

#include <array>
#include <map>
#include <optional>
#include <vector>

#include "measure/waveform/data_row.h"
#include "measure/waveform/data_slicer.h"
#include "measure/waveform/data_text.h"
#include "measure/waveform/interval_time_code.h"
#include "measure/waveform/time_code_run.h"
#include "quantity/figure.h"
#include "table/table.h"

namespace guardband::measure {

/// `data_lines`: data on the lines of the field interval: teletext, captions, wide-screen signalling, the programme
/// label and time code, with an event for each jump of the time code.
///
/// Method: `DataRows` takes each line that shows data; libzvbi reads its bits (`DataSlicer`), our own readers those of
/// time code and of wide-screen signalling on 525 lines. A service is named if it stands in enough lines, against what
/// is found in noise, and if what it says holds together. Needs field sync and 525 or 625 lines. Can't tell: data that
/// stands on other lines than the standards have it, but for a line more or less.
class DataLines {
public:
    /// @param scanning  nullptr or of other line numbers: nothing is looked for   @param depth  of sync, samples' unit
    DataLines(const table::Scanning* scanning, double rate_hz, float depth);

    void see_line(const VideoLine& line, const SampleWindow& window);
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) const;

private:
    /// Where and how often one service was seen.
    struct Sightings {
        std::map<int, std::int64_t> lines;
        std::int64_t tried = 0, seen = 0, last_field = -1;
        std::array<std::int64_t, 2> fields{};  ///< first and second ones
        CheckCount checks;
        std::map<int, std::int64_t> words;  ///< what fixed words said, and how often

        bool is_worth_a_look() const;
        void note(int line, const VideoLine& at);
        std::optional<int> commonest_word() const;
    };

    std::optional<SlicedLine> slice(const DataRow& row, DataService service, const VideoLine& line);
    bool see_captions(const DataRow& row, const VideoLine& line);
    bool see_screen_525(const DataRow& row, const VideoLine& line);
    bool see_screen_625(const DataRow& row, const VideoLine& line);
    bool see_label(const DataRow& row, const VideoLine& line);
    bool see_teletext(const DataRow& row, const VideoLine& line);
    bool see_time_code(const DataRow& row, const VideoLine& line);
    int number_of(const VideoLine& line) const;
    quantity::LineService service(const char* name, const Sightings& sightings, const char* checked,
                                  const CheckCount& checks, std::string says) const;
    void add_teletext(std::vector<quantity::LineService>& all) const;
    void add_captions(std::vector<quantity::LineService>& all) const;
    void add_words(std::vector<quantity::LineService>& all) const;
    void add_time_code(std::vector<quantity::LineService>& all) const;

    static constexpr std::size_t packet_bytes_625 = 42, packet_bytes_525 = 34;

    bool known_ = false, lines_525_ = false;
    int lines_per_frame_ = 0, counted_ = 25;
    double rate_hz_ = 1;
    std::optional<DataRows> rows_;
    std::optional<DataSlicer> slicer_;
    std::array<std::int64_t, 2> fields_{};  ///< first and second ones
    std::int64_t last_field_ = -1;
    std::map<DataService, Sightings> sliced_;
    Sightings screen_525_, time_code_;
    TeletextText teletext_{packet_bytes_625};
    CaptionText captions_first_, captions_second_;
    std::vector<ProgrammeLabel> labels_;  ///< `words` counts them by their places
    std::optional<TimeCodeRun> run_;
};

}  // namespace guardband::measure
