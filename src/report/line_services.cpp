#include "report/line_services.h"

#include <fmt/format.h>

#include <algorithm>

#include "report/text_table.h"

namespace guardband::report {

std::string services_text(const std::vector<quantity::LineService>& services) {
    if (services.empty()) return "none";
    return fmt::format("{} {}", services.size(), services.size() == 1 ? "service" : "services");
}

std::string line_numbers_text(const std::vector<int>& lines) {
    std::string text;
    for (std::size_t first = 0; first < lines.size();) {
        std::size_t last = first;
        while (last + 1 < lines.size() && lines[last + 1] == lines[last] + 1) ++last;
        text += (text.empty() ? "" : ", ") + std::to_string(lines[first]);
        if (last > first) text += (last == first + 1 ? ", " : "-") + std::to_string(lines[last]);
        first = last + 1;
    }
    return text;
}

std::vector<std::string> service_lines(const quantity::LineService& service, std::size_t width) {
    std::string where = fmt::format("{}{} {}; in {} of {} fields", service.stored_rows ? "row" : "line",
                                    service.lines.size() == 1 ? "" : "s", line_numbers_text(service.lines),
                                    service.fields, service.of_fields);
    // What is a hair below the whole must not read as the whole.
    if (service.right)
        where += *service.right == 1
                     ? fmt::format("; all {} right", service.checked)
                     : fmt::format("; {:.3g} % of {} right", std::min(99.9, 100 * *service.right), service.checked);
    std::vector<std::string> lines{"    " + wrapped(service.name + ": " + where, width, 8)};
    if (!service.says.empty()) lines.push_back("        " + wrapped(service.says, width, 8));
    return lines;
}

}  // namespace guardband::report
