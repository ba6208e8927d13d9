#include "guardband/measure_commands.h"

namespace guardband::command_line {

void add_measure_command(Command program, Session& session, const SetAction& set_action) {
    const Command measure =
        program.add_subcommand("measure", "what a capture shows, by measurement, and whether it is faithful");
    measure.require_subcommand();
    add_measure_clip(measure, session, set_action);
    add_measure_tone(measure, session, set_action);
    add_measure_pulses(measure, session, set_action);
    add_measure_waveform(measure, session, set_action);
}

}  // namespace guardband::command_line
