#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>

#include "guardband/command.h"
#include "guardband/rate.h"
#include "guardband/whole_file.h"
#include "quantity/errors.h"
#include "report/beat_report.h"
#include "report/drawing/png.h"
#include "table/suggestion.h"

namespace guardband::command_line {
namespace {

using calc::Input;
using quantity::InputError;

struct Options {
    std::string screen, camera, exposure, readout, decay, exposure_error = "1%", picture;
    bool explain = false;
};

constexpr double longest_decay_s = 10;

Input time_s(const std::string& text, const std::string& option) {
    const quantity::Quantity read = quantity::parse_quantity(text, quantity::unit_named("s"), option);
    const Input input{read.in("s"), read.uncertainty_in(quantity::unit_named("s")).value_or(0)};
    if (input.value < 0 || input.half_width > input.value)
        throw InputError(option, "\"" + text + "\" is or may be below 0", "give a time such as 1/50, 0.01 or 10ms");
    return input;
}

/// A time that must lie within one picture, as `1/50`, `0.02`, `20ms`.
Input time_in_picture(const std::string& text, const std::string& option, const calc::Filming& filming) {
    Input input;
    if (const auto ratio = ratio_of(text)) {
        input.value = ratio->value();
    } else {
        input = time_s(text, option);
    }
    const double picture_s = 1 / filming.camera.value();
    if (input.value > picture_s * (1 + 1e-9))
        throw InputError(option,
                         fmt::format("\"{}\" is longer than a picture, which takes {:.5g} s at {:.5g} a second", text,
                                     picture_s, filming.camera.value()),
                         "give at most that");
    return input;
}

const table::Screen* screen_named(const table::Table& table, const std::string& name) {
    const auto found = std::ranges::find(table.screens, name, &table::Screen::id);
    return found == table.screens.end() ? nullptr : &*found;
}

/// A screen of the table by its id, or a bare rate, which is taken for a picture tube's.
void set_screen(report::BeatAnswer& answer, const table::Table& table, const std::string& text) {
    calc::Filming& filming = answer.filming;
    if (const table::Screen* screen = screen_named(table, text)) {
        const table::Fact* rate = screen->facts.known("refresh_rate");
        const table::Fact* kind = screen->facts.known("kind");
        filming.screen_fact = rate;
        filming.screen = rate->exact ? *rate->exact : quantity::Rational(std::llround(1e6 * rate->in("Hz")), 1'000'000);
        filming.is_lamp = kind != nullptr && kind->printed == "lamp";
        answer.screen_name = screen->name;
        return;
    }
    if (!text.empty() && std::isalpha(static_cast<unsigned char>(text[0])) != 0) {
        std::vector<std::string> ids;
        for (const table::Screen& screen : table.screens) ids.push_back(screen.id);
        throw InputError("--screen " + text, "is no screen of the table",
                         table::did_you_mean(text, ids, "give a rate in Hz, or an id such as tube-100 or lamp-100"));
    }
    const Rate rate = parse_rate(text, "--screen");
    filming.screen = rate.exact, filming.screen_off_hz = rate.off_hz;
    if (!rate.remark.empty()) answer.remarks.push_back(rate.remark);
    filming.assumed.push_back("a picture tube");
}

void set_camera(report::BeatAnswer& answer, const std::string& text) {
    const Rate rate = parse_rate(text, "--camera");
    answer.filming.camera = rate.exact, answer.filming.camera_off_hz = rate.off_hz;
    if (!rate.remark.empty() && std::ranges::find(answer.remarks, rate.remark) == answer.remarks.end())
        answer.remarks.push_back(rate.remark);
}

void set_times(calc::Filming& filming, const Options& options) {
    if (options.exposure.empty()) {
        filming.exposure_s.value = 1 / filming.camera.value();
        filming.assumed.push_back("no shutter, so that a picture is exposed for all its time");
    } else {
        filming.exposure_s = time_in_picture(options.exposure, "--exposure", filming);
        filming.exposure_is_given = true;
        if (filming.exposure_s.value == 0)
            throw InputError("--exposure", "an exposure of nothing has no light", "give a time such as 1/50 or 10ms");
    }
    filming.readout_is_given = !options.readout.empty();
    if (filming.readout_is_given)
        filming.readout_s = time_in_picture(options.readout, "--readout", filming);
    else
        filming.assumed.push_back("all rows exposed at once");
    if (!options.decay.empty()) {
        filming.decay_s = time_s(options.decay, "--decay");
        filming.decay_is_given = true;
        if (filming.is_lamp)
            throw InputError("--decay", "is a picture tube's and has no meaning for a lamp", "leave it out");
        if (filming.decay_s.value > longest_decay_s)
            throw InputError("--decay", "\"" + options.decay + "\" is no phosphor's", "give a time such as 1ms");
    } else if (!filming.is_lamp) {
        filming.assumed.push_back("no afterglow, which flickers most");
    }
}

/// A share, or a time, which is one of the shortest null.
double exposure_error(const std::string& text, const calc::Filming& filming) {
    const bool is_time = text.ends_with('s');
    const auto read = quantity::parse_quantity(text, quantity::unit_named(is_time ? "s" : "%"), "--exposure-error");
    const double share = is_time ? read.in("s") * filming.screen.value() : read.in("share");
    if (share < 0 || share >= 1)
        throw InputError("--exposure-error", "\"" + text + "\" is no error of an exposure",
                         "give a share below 100 % or a time below one refresh, such as 1% or 50us");
    return share;
}

void draw_picture(report::BeatAnswer& answer, const std::string& file) {
    answer.strip = calc::film_strip(answer.filming);
    answer.picture_file = file;
    const calc::GreyPicture& picture = answer.strip->picture;
    write_whole_file(file, report::drawing::grey_png(picture.width, picture.height, picture.samples),
                     "--picture " + file);
}

int show(Session& session, const Options& options) {
    const table::Table& table = session.table();
    report::BeatAnswer answer;
    set_screen(answer, table, options.screen);
    set_camera(answer, options.camera);
    set_times(answer.filming, options);
    if (!answer.filming.is_lamp) calc::set_scan_share(answer.filming, table);
    answer.filming.exposure_error = exposure_error(options.exposure_error, answer.filming);
    answer.filmed = calc::filmed_screen(answer.filming);
    if (options.explain) answer.working = calc::filmed_working(answer.filming, answer.filmed);
    if (!answer.filming.is_lamp) answer.cautions = {"picture-tube"};
    if (!options.picture.empty()) draw_picture(answer, options.picture);
    session.out() << (session.json ? report::beat_json(answer, table) : report::beat_text(answer, table));
    return Done;
}

}  // namespace

void add_beat_command(Command program, Session& session, const SetAction& set_action) {
    auto options = std::make_shared<Options>();
    const Command command =
        program.add_subcommand("beat", "a screen or lamp before a camera: flicker, bands, and exposures that null it");
    command
        .add_option("--screen", options->screen, "refresh rate, 59.94 or 60000/1001 (Hz), or an id: tube-100, lamp-120")
        .required()
        .type_name("HZ");
    command
        .add_option("--camera", options->camera,
                    "pictures a second: 25, 29.97, 24000/1001; of an interlaced camera its fields")
        .required()
        .type_name("FPS");
    command.add_option("--exposure", options->exposure, "of each picture: 1/50, 0.02, 20ms (s); all its time if absent")
        .type_name("S");
    command.add_option("--readout", options->readout, "from the first row to the last of a picture: 1/60, 16ms (s)")
        .type_name("S");
    command.add_option("--decay", options->decay, "time constant of the phosphor: 1ms, 0.2ms (s)").type_name("S");
    command.add_option("--exposure-error", options->exposure_error, "by which a null may be missed: 1%, 50us")
        .type_name("SHARE");
    command.add_option("--picture", options->picture, "draw what the camera sees of a grey screen, as PNG")
        .type_name("FILE");
    command.add_flag("--explain", options->explain, "how each figure was got: formula, numbers, sources");
    set_action(command, [&session, options] { return show(session, *options); });
}

}  // namespace guardband::command_line
