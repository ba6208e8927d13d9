#include "guardband/command.h"
namespace guardband::command_line {
void add_measure_command(CLI::App&, Session&, const SetAction&) {}
}
