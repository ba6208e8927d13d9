#include "report/labelled_text.h"

#include "report/text_table.h"

namespace guardband::report {
namespace {

constexpr std::size_t indent = 2;

}  // namespace

std::string labelled(const std::string& label, const std::string& text, std::size_t label_width) {
    return std::string(indent, ' ') + padded(label, label_width) + wrapped(text, page_width, indent + label_width) +
           "\n";
}

std::string indented(const std::string& text) {
    return std::string(indent, ' ') + wrapped(text, page_width, indent) + "\n";
}

}  // namespace guardband::report
