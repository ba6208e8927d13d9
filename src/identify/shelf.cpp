#include "identify/shelf.h"

#include <algorithm>

#include "quantity/errors.h"
#include "table/entries.h"
#include "table/fields.h"
#include "table/suggestion.h"

namespace guardband::identify {
namespace {

using table::Fields;
using table::Mode;
using table::TapeFormat;

void add_mode(Machine& machine, const TapeFormat& format, const Mode& mode) {
    machine.formats.push_back(&format);
    machine.modes.push_back(&mode);
}

/// A format's modes on a scanning standard, or on all; with those that its machines also play by the table.
void add_format(Machine& machine, const table::Table& table, const TapeFormat& format, const std::string& system) {
    const auto add_own = [&](const TapeFormat& own) {
        for (const Mode& mode : own.modes)
            if (system.empty() || mode.system == system) add_mode(machine, own, mode);
    };
    add_own(format);
    for (const std::string& other : format.plays)
        if (const TapeFormat* also = table.find_format(other)) add_own(*also);
}

/// `FORMAT`, `FORMAT:SYSTEM` or an address.
void add_played(Machine& machine, const table::Table& table, const std::string& text, const std::string& input) {
    const auto colons = std::ranges::count(text, ':');
    if (colons >= 2) {
        const auto [format, mode] = table.at(text, input);
        add_mode(machine, *format, *mode);
        return;
    }
    const TapeFormat& format = table.format(text.substr(0, text.find(':')), input);
    const std::string system = colons == 1 ? table.scanning(text.substr(text.find(':') + 1), input).id : "";
    const std::size_t before = machine.modes.size();
    add_format(machine, table, format, system);
    if (machine.modes.size() == before)
        throw quantity::InputError(input, format.name + " has no mode on " + system,
                                   "`guardband formats " + format.id + "` lists its modes");
}

bool yes_or_no(Fields& fields, const std::string& key, bool otherwise) {
    const std::string word = fields.optional_text(key);
    if (word.empty()) return otherwise;
    if (word != "yes" && word != "no")
        throw fields.error(key, "\"" + word + "\" is neither yes nor no", "write yes or no");
    return word == "yes";
}

Machine read_machine(Fields& fields, const table::Table& table) {
    Machine machine;
    machine.id = fields.required_text("id");
    machine.name = fields.required_text("name");
    machine.condition = fields.optional_text("condition");
    machine.works = yes_or_no(fields, "works", true);
    const std::vector<std::string> plays = fields.texts("plays");
    if (plays.empty()) throw fields.error("plays", "is empty", R"(name what it plays: plays = ["vhs:625/50"])");
    for (const std::string& text : plays) add_played(machine, table, text, fields.error("plays", "").input());
    for (const std::string& colour : fields.texts("colours"))
        machine.colours.push_back(checked_word(table, Kind::Colour, colour, fields.error("colours", "").input()));
    fields.expect_no_more();
    return machine;
}

bool has(const std::vector<std::string>& words, const std::string& word) {
    return std::ranges::find(words, word) != words.end();
}

/// Does a machine play the format at all, another system or speed of it perhaps?
bool plays_format(const Machine& machine, const TapeFormat& format) {
    return std::ranges::find(machine.formats, &format) != machine.formats.end();
}

bool plays_system(const Machine& machine, const TapeFormat& format, const std::string& system) {
    for (std::size_t i = 0; i < machine.modes.size(); ++i)
        if (machine.formats[i] == &format && machine.modes[i]->system == system) return true;
    return false;
}

/// What keeps a machine from playing a tape; empty if nothing does.
std::string lacking(const Machine& machine, const ModeModel& tape) {
    const TapeFormat& format = *tape.format;
    const std::string& system = tape.mode->system;
    if (machine.plays(format, *tape.mode)) return machine.works ? "" : "does not work";
    if (!plays_format(machine, format)) return "does not play " + format.name;
    if (!plays_system(machine, format, system)) return "plays " + format.name + ", but not on " + system;
    return "plays " + format.name + " on " + system + ", but not in its mode " + tape.mode->id;
}

std::string colour_of(const std::vector<Observation>& observations) {
    for (const Observation& seen : observations)
        if (seen.kind == Kind::Colour) return seen.text;
    return "";
}

Playable players_of(const std::vector<Machine>& shelf, const Candidate& candidate, const std::string& colour) {
    Playable result{candidate.model, candidate.probability, {}, {}};
    for (const Machine& machine : shelf) {
        const std::string lacks = lacking(machine, *candidate.model);
        if (!lacks.empty()) {
            if (plays_format(machine, *candidate.model->format)) result.missing.push_back(machine.name + " " + lacks);
            continue;
        }
        const bool lacks_colour =
            !colour.empty() && colour != "none" && !machine.colours.empty() && !has(machine.colours, colour);
        result.players.push_back({&machine, lacks_colour ? "plays it without colour: it has no " + colour : ""});
    }
    std::ranges::stable_sort(result.players, {}, [](const Player& player) { return !player.remark.empty(); });
    if (result.players.empty() && result.missing.empty())
        result.missing.push_back("No machine on the shelf plays " + candidate.model->format->name + " at all");
    return result;
}

}  // namespace

bool Machine::plays(const TapeFormat& format, const Mode& mode) const {
    for (std::size_t i = 0; i < modes.size(); ++i)
        if (formats[i] == &format && modes[i] == &mode) return true;
    return false;
}

std::vector<Machine> read_shelf(const table::Table& table, const table::Document& document) {
    Fields root(document, document.root, "");
    std::vector<Machine> shelf;
    (void)root.optional_text("what");
    table::for_each_section(root, "machine", [&](Fields& fields) {
        Machine machine = read_machine(fields, table);
        if (std::ranges::find(shelf, machine.id, &Machine::id) != shelf.end())
            throw fields.error("id", "\"" + machine.id + "\" stands twice", "give each machine an id of its own");
        shelf.push_back(std::move(machine));
    });
    root.expect_no_more();
    if (shelf.empty())
        throw quantity::InputError(document.file, "holds no [[machine]]",
                                   R"(write [[machine]], then id, name and plays = ["vhs:625/50"] below it)");
    return shelf;
}

std::vector<Playable> playable(const std::vector<Machine>& shelf, const Answer& answer) {
    constexpr double enough = 0.9;
    constexpr std::size_t most = 4;
    std::vector<Playable> all;
    double sum = 0;
    if (shelf.empty() || answer.observations.empty()) return all;
    const std::string colour = colour_of(answer.observations);
    for (const Candidate& candidate : answer.candidates) {
        if (sum >= enough || all.size() == most) break;
        all.push_back(players_of(shelf, candidate, colour));
        sum += candidate.probability;
    }
    return all;
}

}  // namespace guardband::identify
