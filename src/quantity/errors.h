#pragma once

#include <stdexcept>
#include <string>

namespace guardband::quantity {

/// Input that can't be used: a file, an option, a line of a format file. Thrown where it is read and caught once, by
/// the program, which prints it as one line and exits with 2.
class InputError : public std::runtime_error {
public:
    /// @param input   what was given, as the user would recognise it: a path, `file:line: key`, an option
    /// @param what    what is wrong with it
    /// @param remedy  what to do about it; may be empty when `what` leaves no doubt
    InputError(std::string input, std::string what, std::string remedy = {});

    const std::string& input() const { return input_; }
    const std::string& fault() const { return fault_; }
    const std::string& remedy() const { return remedy_; }

private:
    std::string input_, fault_, remedy_;
};

/// A caller's mistake at a public door: an argument outside the function's domain, such as a negative length.
class DomainError : public std::domain_error {
public:
    using std::domain_error::domain_error;
};

}  // namespace guardband::quantity
