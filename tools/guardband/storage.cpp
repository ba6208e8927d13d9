#include <memory>

#include "calc/storage.h"
#include "guardband/command.h"
#include "guardband/inventory_file.h"
#include "quantity/errors.h"
#include "report/storage_report.h"

namespace guardband::command_line {
namespace {

using quantity::InputError;

struct Options {
    std::string hours, codec, system, raster, format, grade, length, mode, inventory;
    std::string sound_rate;
    int sound_bits = 0, channels = 0;
    bool no_sound = false, explain = false;

    bool asks_for_sound() const { return !sound_rate.empty() || sound_bits != 0 || channels != 0; }
};

int whole_in(int given, int otherwise, int low, int high, const std::string& option) {
    if (given == 0) return otherwise;
    if (given < low || given > high)
        throw InputError(option, std::to_string(given) + " is impossible",
                         "give " + std::to_string(low) + " to " + std::to_string(high));
    return given;
}

std::optional<calc::StoredSound> sound_of(const Options& options) {
    if (options.no_sound && options.asks_for_sound())
        throw InputError("--no-sound", "can't be given together with sound", "leave one out");
    if (options.no_sound) return std::nullopt;
    calc::StoredSound sound;
    if (!options.sound_rate.empty())
        sound.sampling_hz =
            quantity::parse_quantity(options.sound_rate, quantity::unit_named("kHz"), "--sound-rate").in("Hz");
    if (!(sound.sampling_hz >= 1000 && sound.sampling_hz <= 1e6))
        throw InputError("--sound-rate", "\"" + options.sound_rate + "\" is no sampling rate of sound",
                         "give 1 to 1000 kHz");
    sound.bits = whole_in(options.sound_bits, sound.bits, 8, 64, "--sound-bits");
    sound.channels = whole_in(options.channels, sound.channels, 1, 64, "--channels");
    return sound;
}

calc::StorageQuery query_of(const table::Table& table, const Options& options) {
    calc::StorageQuery query;
    if (!options.codec.empty()) query.codec = &table.codec(options.codec, "--codec " + options.codec);
    if (!options.system.empty()) query.system = &table.scanning(options.system, "--system " + options.system);
    query.raster = options.raster;
    query.sound = sound_of(options);
    query.adds_sound_anyway = options.asks_for_sound();
    return query;
}

calc::Bounded hours_of(const Options& options) {
    const auto time = quantity::parse_quantity(options.hours, quantity::unit_named("h"), "--hours");
    const double spread = time.uncertainty_in(quantity::unit_named("s")).value_or(0);
    const double seconds = time.in("s");
    if (seconds - spread < 0) throw InputError("--hours", "a time can't be negative", "give 0 or more");
    constexpr double most_seconds = 3.6e9;  // a million hours, more than any archive holds
    if (seconds + spread > most_seconds)
        throw InputError("--hours", "\"" + options.hours + "\" is impossible", "give a million hours at most");
    return {seconds, seconds - spread, seconds + spread};
}

std::vector<calc::RunningTime> tapes_of(const table::Table& table, const Options& options,
                                        const calc::StorageQuery& query) {
    calc::RunningTimeQuery tapes;
    if (options.format.empty())
        throw InputError("--format", "is missing", "say of which format the tape is, such as --format vhs");
    tapes.format = &table.format(options.format, "--format " + options.format);
    tapes.system = query.system;
    if (!options.grade.empty()) tapes.grade = options.grade;
    if (!options.mode.empty()) tapes.mode = options.mode;
    if (!options.length.empty())
        tapes.length = quantity::parse_quantity(options.length, quantity::unit_named("m"), "--length");
    return calc::running_times(table, tapes);
}

std::vector<calc::StoredStretch> stretches_of(const table::Table& table, const Options& options) {
    const int ways = int(!options.hours.empty()) + int(!options.grade.empty()) + int(!options.length.empty());
    if (ways != 1)
        throw InputError("storage", ways == 0 ? "nothing to store is named" : "more than one thing to store is named",
                         "give --hours, or --format with --grade or --length, or --inventory");
    const calc::StorageQuery query = query_of(table, options);
    if (!options.hours.empty() && !(options.format.empty() && options.mode.empty()))
        throw InputError("--hours", "can't be given together with a tape", "leave out --format and --mode");
    if (!options.hours.empty()) return {{hours_of(options), std::nullopt, calc::storage_rates(table, query)}};
    return calc::stored_tapes(table, tapes_of(table, options, query), query);
}

/// @throws InputError if a single tape or time is asked for too
int show_inventory(Session& session, const Options& options) {
    for (const std::string* other :
         {&options.hours, &options.format, &options.grade, &options.length, &options.mode, &options.system})
        if (!other->empty())
            throw InputError("--inventory", "can't be given together with a time, a tape or a system",
                             "the inventory's lines say what they are; leave the rest out");
    const table::Table& table = session.table();
    const auto inventory = calc::inventory_storage(table, read_inventory(options.inventory), query_of(table, options));
    const report::StorageNotes notes{sound_of(options), options.explain};
    session.out() << (session.json ? report::inventory_storage_json(inventory, table, notes)
                                   : report::inventory_storage_text(inventory, table, notes));
    return Done;
}

int show(Session& session, const Options& options) {
    if (!options.inventory.empty()) return show_inventory(session, options);
    const auto stretches = stretches_of(session.table(), options);
    const report::StorageNotes notes{sound_of(options), options.explain};
    session.out() << (session.json ? report::storage_json(stretches, session.table(), notes)
                                   : report::storage_text(stretches, session.table(), notes));
    return Done;
}

}  // namespace

void add_storage_command(Command program, Session& session, const SetAction& set_action) {
    auto options = std::make_shared<Options>();
    const Command command = program.add_subcommand("storage", "what captures take on disk, by codec");
    command.add_option("--hours", options->hours, "a time: 3, 90min, 1.5±0.1 (hours if no unit is given)");
    command.add_option("--format", options->format, "of a tape instead: its format");
    command.add_option("--grade", options->grade, "its label, such as E-180");
    command.add_option("--length", options->length, "or its length: 246m, 810ft");
    command.add_option("--mode", options->mode, "the mode that it was recorded in: SP, LP ...");
    command.add_option("--inventory", options->inventory,
                       "or many tapes: a CSV file with columns address, grade or minutes, and count");
    command.add_option("--codec", options->codec, "one codec: v210, ffv1, dv25 ...; all if left out");
    command.add_option("--system", options->system, "525/60, 625/50, NTSC, PAL");
    command.add_option("--raster", options->raster, "720x486, 720x480, 720x576; all of the system if left out");
    command.add_option("--sound-rate", options->sound_rate,
                       "sampling rate of the sound: 48kHz (kHz if no unit is given)");
    command.add_option("--sound-bits", options->sound_bits, "bits a sample of sound: 24 if left out");
    command.add_option("--channels", options->channels, "channels of sound: 2 if left out");
    command.add_flag("--no-sound", options->no_sound, "picture alone");
    command.add_flag("--explain", options->explain, "show the formula with the numbers put in, and their sources");
    set_action(command, [&session, options] { return show(session, *options); });
}

}  // namespace guardband::command_line
