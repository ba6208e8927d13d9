#include "report/html_links.h"

#include <fmt/format.h>

#include "report/html.h"

namespace guardband::report {

std::string html_link(const std::string& to, const std::string& name) {
    return "<a href=\"" + to + "\">" + html_text(name) + "</a>";
}

PageLinks::PageLinks(const table::Table& table) {
    for (const table::TapeFormat& format : table.formats)
        format_files_[format.id] = free_path("formats/" + slug(format.id), ".html");
    for (const System& system : all_systems(table)) {
        const std::string name = "systems/" + kind_of(system) + "-" + slug(id_of(system));
        system_files_[kind_of(system) + " " + id_of(system)] = free_path(name, ".html");
    }
}

const std::string& PageLinks::file_of(const System& system) const {
    return system_files_.at(kind_of(system) + " " + id_of(system));
}

std::string PageLinks::free_path(const std::string& wanted, const std::string& extension) {
    std::string path = wanted + extension;
    for (int n = 2; !taken_.insert(path).second; ++n) path = fmt::format("{}-{}{}", wanted, n, extension);
    return path;
}

std::string PageLinks::link(const table::TapeFormat& format, const std::string& to_top) const {
    return html_link(to_top + file_of(format), format.name);
}

std::string PageLinks::link(const System& system, const std::string& to_top) const {
    return html_link(to_top + file_of(system), id_of(system));
}

}  // namespace guardband::report
