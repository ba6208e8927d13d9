#include <memory>

#include "calc/conversion.h"
#include "guardband/command.h"
#include "quantity/errors.h"
#include "report/convert_report.h"

namespace guardband::command_line {
namespace {

struct Options {
    calc::ConversionQuery query;
    std::string setup;
    bool composite = false, explain = false;
};

calc::CapturedSetup setup_named(const std::string& word) {
    if (word.empty() || word == "removed") return calc::CapturedSetup::Removed;
    if (word == "kept") return calc::CapturedSetup::Kept;
    throw quantity::InputError("--setup", "\"" + word + "\" is not one of the words for it",
                               "use removed (black at the black code) or kept (blanking there)");
}

int show(Session& session, const Options& options) {
    calc::ConversionQuery query = options.query;
    query.setup = setup_named(options.setup);
    if (options.composite) {
        if (options.setup == "removed")
            throw quantity::InputError("--setup removed", "composite samples keep the set-up",
                                       "leave out --setup or --composite");
        query.signal = calc::CodedSignal::Composite;
    }
    const calc::Conversion answer = calc::conversion(session.table(), query);
    session.out() << (session.json ? report::conversion_json(answer, session.table(), options.explain)
                                   : report::conversion_text(answer, session.table(), options.explain));
    return Done;
}

}  // namespace

void add_convert_command(Command program, Session& session, const SetAction& set_action) {
    auto options = std::make_shared<Options>();
    calc::ConversionQuery& query = options->query;
    const Command command = program.add_subcommand(
        "convert", "levels, times, time code, resolution, ratios, lengths and speeds, each in the other's unit");
    command.add_option("VALUE", query.value, "75, 25.0±0.1, 1:30:00, 01:00:00;02").required();
    command
        .add_option(
            "FROM", query.from,
            "its unit: IRE, mV, code8, code10; µs, samples, deg, %line, frames, timecode, h:mm:ss; TVL, MHz; dB, "
            "ratio; m, ft, in/s ...; or the speed it was recorded at: 24fps, 33.35mm/s")
        .required();
    command.add_option("TO", query.to, "the unit wanted, or the speed it is played at").required();
    command.add_option("--system", query.system, "PAL, NTSC, NTSC-J, PAL-M, SECAM, 405/50 ...");
    command.add_option("--setup", options->setup, "what the capture did with set-up: removed (if left out) or kept");
    command.add_flag("--composite", options->composite,
                     "codes and samples of the composite signal at four times the subcarrier, not of luma");
    command.add_option("--rate", query.sampling_rate, "sampling rate, MHz; 13.5 of the system's raster if left out");
    command.add_option("--fps", query.frame_rate, "frames a second: 24, 23.976, 25, 29.97, 30000/1001 ...");
    command.add_flag("--non-drop", query.counts_without_drop, "write time code of 29.97 and 59.94 without drop-frame");
    command.add_flag("--power", query.ratio_of_powers, "dB of powers (10 log), not of amplitudes (20 log)");
    command.add_flag("--explain", options->explain, "show the formula with the numbers put in, and their sources");
    set_action(command, [&session, options] { return show(session, *options); });
}

}  // namespace guardband::command_line
