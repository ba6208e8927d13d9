#include "measure/waveform/data_slicer.h"

#include <libzvbi.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <utility>

namespace guardband::measure {
namespace {

constexpr float blanking_code = 40, high_code = 180;  ///< what the levels become in eight bits

unsigned library_id(DataService service, bool lines_525) {
    switch (service) {
        case DataService::TeletextA:
            return lines_525 ? 0 : VBI_SLICED_TELETEXT_A;
        case DataService::TeletextB:
            return lines_525 ? VBI_SLICED_TELETEXT_B_525 : VBI_SLICED_TELETEXT_B_625;
        case DataService::TeletextC:
            return lines_525 ? VBI_SLICED_TELETEXT_C_525 : VBI_SLICED_TELETEXT_C_625;
        case DataService::TeletextD:
            return lines_525 ? VBI_SLICED_TELETEXT_D_525 : VBI_SLICED_TELETEXT_D_625;
        case DataService::Captions:
            return lines_525 ? VBI_SLICED_CAPTION_525_F1 : VBI_SLICED_CAPTION_625_F1;
        case DataService::WideScreen:
            return lines_525 ? 0 : VBI_SLICED_WSS_625;
        case DataService::Label:
            return lines_525 ? 0 : VBI_SLICED_VPS;
    }
    return 0;
}

/// Lines on which the library looks for a service, as the standards number them. Teletext it takes only from a picture
/// of both fields.
struct HomeLines {
    int first_field = 0, second_field = 0;  ///< 0: none
};

HomeLines home_lines(DataService service, bool lines_525) {
    switch (service) {
        case DataService::Captions:
            return {lines_525 ? 21 : 22, 0};
        case DataService::WideScreen:
            return {23, 0};
        case DataService::Label:
            return {16, 0};
        default:
            return lines_525 ? HomeLines{11, 274} : HomeLines{8, 321};
    }
}

/// Share of the row's power about its mean, in the time of a caption's run-in, that a sine of its clock makes up.
double run_in_share(const DataRow& row) {
    const auto from = static_cast<std::size_t>(DataRow::place(11)), to = static_cast<std::size_t>(DataRow::place(22.8));
    const double turn = 2 * std::numbers::pi * 32 / (row.line_us * DataRow::rate_hz / 1e6);
    double mean = 0, square = 0, c = 0, s = 0;
    const auto n = static_cast<double>(to - from);
    for (std::size_t i = from; i < to; ++i) mean += row.levels[i] / n;
    for (std::size_t i = from; i < to; ++i) {
        const double value = row.levels[i] - mean;
        square += value * value;
        c += value * std::cos(turn * static_cast<double>(i)), s += value * std::sin(turn * static_cast<double>(i));
    }
    return square > 0 ? 2 * (c * c + s * s) / n / square : 0;
}

constexpr double least_run_in_share = 0.6;

/// Bits a line of the systems of teletext on 625 lines (ITU-R BT.653, from memory).
constexpr std::array<std::pair<DataService, double>, 4> teletext_clocks{{{DataService::TeletextA, 397},
                                                                         {DataService::TeletextB, 444},
                                                                         {DataService::TeletextC, 367},
                                                                         {DataService::TeletextD, 361.138}}};

/// How much of a clock there is in a row: squared steps come at multiples of a bit.
double clock_strength(const DataRow& row, double bits_per_line) {
    const double turn = 2 * std::numbers::pi * bits_per_line / (row.line_us * DataRow::rate_hz / 1e6);
    std::complex<double> sum = 0, axis = 1;
    const std::complex<double> step = std::polar(1.0, turn);
    for (std::size_t i = 1; i < row.levels.size(); ++i, axis *= step) {
        const double rise = row.levels[i] - row.levels[i - 1];
        sum += rise * rise * axis;
    }
    return std::abs(sum);
}

/// The library finds the framing code of system A in system C too, at a clock that is 8 % off.
bool has_clock_of(const DataRow& row, DataService service) {
    double own = 0, others = 0;
    for (const auto& [system, bits] : teletext_clocks) {
        double& strength = system == service ? own : others;
        strength = std::max(strength, clock_strength(row, bits));
    }
    return own > others;
}

bool is_teletext(DataService service) {
    return std::ranges::any_of(teletext_clocks, [&](const auto& entry) { return entry.first == service; });
}

}  // namespace

/// The library's decoder, and the lines as it takes them: the one that is read, then an empty one.
struct DataSlicer::Decoders {
    vbi_raw_decoder decoder{};
    std::array<std::uint8_t, std::size_t{2} * DataRow::length> codes{};

    Decoders() {
        vbi_raw_decoder_init(&decoder);
        codes.fill(static_cast<std::uint8_t>(blanking_code));
    }
    ~Decoders() { vbi_raw_decoder_destroy(&decoder); }
    Decoders(const Decoders&) = delete;
    Decoders& operator=(const Decoders&) = delete;
};

DataSlicer::DataSlicer(bool lines_525) : lines_525_(lines_525), decoders_(std::make_unique<Decoders>()) {}
DataSlicer::~DataSlicer() = default;

std::optional<SlicedLine> DataSlicer::read(const DataRow& row, DataService service) {
    const unsigned id = library_id(service, lines_525_);
    if (id == 0) return std::nullopt;
    if (service == DataService::Captions && run_in_share(row) < least_run_in_share) return std::nullopt;
    for (std::size_t i = 0; i < row.levels.size(); ++i) {
        const float code = blanking_code + (high_code - blanking_code) * row.levels[i];
        decoders_->codes[i] = static_cast<std::uint8_t>(code > 0 ? std::min(code, 255.0F) : 0.0F);  // of no number too
    }
    // The decoder learns which lines are empty and then passes over them for a while: each line meets a new one.
    vbi_raw_decoder& decoder = decoders_->decoder;
    vbi_raw_decoder_reset(&decoder);
    decoder.scanning = lines_525_ ? 525 : 625;
    decoder.sampling_format = VBI_PIXFMT_YUV420;
    decoder.sampling_rate = static_cast<int>(DataRow::rate_hz);
    decoder.bytes_per_line = DataRow::length;
    decoder.offset = DataRow::first_sample;
    const HomeLines home = home_lines(service, lines_525_);
    decoder.start[0] = home.first_field, decoder.count[0] = 1;
    decoder.start[1] = home.second_field, decoder.count[1] = home.second_field > 0 ? 1 : 0;
    decoder.interlaced = 0;
    decoder.synchronous = 1;
    constexpr int anywhere = 0;  // how strict it is about the place of a service
    if (vbi_raw_decoder_add_services(&decoder, id, anywhere) == 0) return std::nullopt;
    std::array<vbi_sliced, 2> found{};
    if (vbi_raw_decode(&decoder, decoders_->codes.data(), found.data()) < 1) return std::nullopt;
    if (found[0].line != static_cast<unsigned>(home.first_field)) return std::nullopt;
    if (!lines_525_ && is_teletext(service) && !has_clock_of(row, service)) return std::nullopt;
    SlicedLine line;
    line.service = service;
    std::copy(std::begin(found[0].data), std::end(found[0].data), line.bytes.begin());
    return line;
}

std::optional<unsigned> hamming_8_4(std::uint8_t byte) {
    const int value = vbi_unham8(byte);
    return value < 0 ? std::nullopt : std::optional(static_cast<unsigned>(value));
}

ProgrammeLabel programme_label(const SlicedLine& line) {
    ProgrammeLabel label;
    vbi_decode_vps_cni(&label.network, line.bytes.data());
    vbi_program_id id{};
    if (!vbi_decode_vps_pdc(&id, line.bytes.data())) return label;
    label.day = static_cast<int>(VBI_PIL_DAY(id.pil)), label.month = static_cast<int>(VBI_PIL_MONTH(id.pil));
    label.hour = static_cast<int>(VBI_PIL_HOUR(id.pil)), label.minute = static_cast<int>(VBI_PIL_MINUTE(id.pil));
    return label;
}

}  // namespace guardband::measure
