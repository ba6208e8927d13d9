#include "guardband/syntax.h"

#include <CLI/CLI.hpp>

namespace guardband::command_line {

const Option& Option::required() const {
    option_->required();
    return *this;
}

const Option& Option::type_name(const char* name) const {
    option_->type_name(name);
    return *this;
}

const Option& Option::expected(int least, int most) const {
    option_->expected(least, most);
    return *this;
}

const Option& Option::one_value_each_time() const {
    option_->allow_extra_args(false);
    return *this;
}

const Option& Option::needs(const Option& other) const {
    option_->needs(other.option_);
    return *this;
}

Command Command::add_subcommand(const char* name, const char* help) const {
    return Command(app_->add_subcommand(name, help));
}

Option Command::add_option(const char* name, std::string& value, const char* help) const {
    return Option(app_->add_option(name, value, help));
}

Option Command::add_option(const char* name, std::vector<std::string>& values, const char* help) const {
    return Option(app_->add_option(name, values, help));
}

Option Command::add_option(const char* name, int& value, const char* help) const {
    return Option(app_->add_option(name, value, help));
}

Option Command::add_flag(const char* name, bool& given, const char* help) const {
    return Option(app_->add_flag(name, given, help));
}

void Command::require_subcommand() const { app_->require_subcommand(1); }

void Command::on_given(std::function<void()> call) const { app_->callback(std::move(call)); }

std::vector<std::string> Command::subcommand_names() const {
    std::vector<std::string> names;
    for (const CLI::App* command : app_->get_subcommands(nullptr)) names.push_back(command->get_name());
    return names;
}

}  // namespace guardband::command_line
