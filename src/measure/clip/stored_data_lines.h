#pragma once

#include <array>
#include <map>
#include <vector>

#include "measure/clip/luma_range.h"
#include "measure/clip_measurement.h"
#include "measure/waveform/data_slicer.h"
#include "measure/waveform/data_text.h"
#include "measure/waveform/time_code_run.h"

namespace guardband::measure {

/// `data_lines` of a clip: time code and captions that stand in the first stored rows, with an event for each jump of
/// the time code against the clip's frames.
///
/// Method: the readers of `measure waveform` on rows of 720 samples at 13.5 MHz. Each of the first 40 rows is looked
/// at in the first frames and in one frame a second; one that held data, in every frame. Needs a clip 720 samples wide
/// at 25 or 29.97 frames a second. Can't tell: data that other programs moved, scaled or wrote as text.
class StoredDataLines final : public ClipMeasurement {
public:
    explicit StoredDataLines(const ClipContext& context);

    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    struct Sightings {
        std::map<int, std::int64_t> rows;
        std::array<std::int64_t, 2> fields{}, last_frame{-1, -1};
        CheckCount checks;

        void note(int row, std::int64_t frame);
    };

    template <typename Sample>
    bool take_row(const media::Frame& frame, int y);
    bool read_row(const media::Frame& frame, int y);
    quantity::LineService service(const char* name, const Sightings& sightings) const;

    LumaRange range_;
    bool can_look_ = false, lines_525_ = false;
    double first_ = 0;  ///< place of a row's first sample in a `DataRow`
    double frame_rate_ = 25;
    std::int64_t frames_ = 0;
    std::vector<float> levels_, sorted_, row_;
    DataRow data_row_;
    DataSlicer slicer_;
    std::vector<bool> holds_data_;
    Sightings time_code_, captions_;
    std::array<CaptionText, 2> texts_;
    std::optional<TimeCodeRun> run_;
};

}  // namespace guardband::measure
