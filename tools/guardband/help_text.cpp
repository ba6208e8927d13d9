#include "guardband/help_text.h"

#include <string>

#include "report/text_table.h"

namespace guardband::command_line {
namespace {

constexpr std::size_t columns = 80, names_width = 26, indent = 2;

/// A name and what it means beside it, or below where the name is too long.
std::string entry(const std::string& name, const std::string& meaning) {
    if (meaning.empty()) return std::string(indent, ' ') + name + "\n";
    const bool is_long = indent + report::display_width(name) + 1 > names_width;
    const std::string left = std::string(indent, ' ') + name;
    return (is_long ? left + "\n" + std::string(names_width, ' ') : report::padded(left, names_width)) +
           report::wrapped(meaning, columns, names_width) + "\n";
}

class HelpText : public CLI::Formatter {
public:
    std::string make_option(const CLI::Option* option, bool is_positional) const override {
        return entry(make_option_name(option, is_positional) + make_option_opts(option), make_option_desc(option));
    }
    std::string make_subcommand(const CLI::App* command) const override {
        return entry(command->get_display_name(true), command->get_description());
    }
    std::string make_description(const CLI::App* command) const override {
        return report::wrapped(command->get_description(), columns) + "\n";
    }
};

}  // namespace

std::shared_ptr<CLI::FormatterBase> help_text() { return std::make_shared<HelpText>(); }

}  // namespace guardband::command_line
