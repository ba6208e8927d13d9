#include "report/convert_report.h"

#include <fmt/format.h>

#include <cmath>
#include <cstdint>

#include "calc/conversion_basis.h"
#include "report/figure_page.h"
#include "report/text_table.h"
#include "report/working_report.h"

namespace guardband::report {
namespace {

/// A unit of the command line as one would say it.
std::string unit_words(const std::string& unit) {
    if (unit == "code8") return "in 8-bit code";
    if (unit == "code10") return "in 10-bit code";
    return unit;
}

std::string answer_text(const calc::Conversion& conversion) {
    if (!conversion.text.empty()) return conversion.text;
    const std::string spread = conversion.half_width ? fmt::format(" ± {:.2g}", *conversion.half_width) : std::string();
    return calc::plain_number(conversion.value) + spread + " " + unit_words(conversion.unit);
}

/// Whole numbers as such: a frame is not 1800.0.
Json number(double value) {
    constexpr double exactly_whole = 9e15;
    if (value == std::round(value) && std::abs(value) < exactly_whole) return static_cast<std::int64_t>(value);
    return value;
}

}  // namespace

std::string conversion_text(const calc::Conversion& conversion, const table::Table& table, bool explain) {
    const std::string basis = conversion.basis.empty() ? "" : "  (" + conversion.basis + ")";
    std::string text = wrapped(conversion.given + " = " + answer_text(conversion) + basis, page_width) + "\n";
    std::string remarks;
    for (const std::string& remark : conversion.remarks) remarks += (remarks.empty() ? "" : " ") + remark;
    if (!remarks.empty()) text += wrapped(remarks, page_width) + "\n";
    if (explain) text += working_text(conversion.working, table);
    if (conversion.uses_table) text += "\n" + wrapped(edition_text(table.edition) + ".", page_width) + "\n";
    return text;
}

std::string conversion_json(const calc::Conversion& conversion, const table::Table& table, bool explain) {
    Json json = Json::object();
    if (conversion.text.empty() || conversion.unit != "timecode")
        json["value"] = conversion.value;
    else
        json["value"] = conversion.text;
    json["unit"] = conversion.unit;
    if (!conversion.text.empty()) json["text"] = conversion.text;
    if (conversion.half_width) json["half_width"] = *conversion.half_width;
    json["given"] = conversion.given;
    if (!conversion.basis.empty()) json["basis"] = conversion.basis;
    for (const auto& [key, value] : conversion.also) json[key] = number(value);
    if (!conversion.remarks.empty()) json["remarks"] = conversion.remarks;
    if (explain) json["working"] = working_json(conversion.working);
    if (conversion.uses_table) json["table_version"] = table.edition.version;
    return to_text(json);
}

}  // namespace guardband::report
