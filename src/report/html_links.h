#pragma once

#include <map>
#include <set>
#include <string>

#include "report/system_page.h"
#include "table/table.h"

namespace guardband::report {

/// A link as HTML. @param to  path and anchor, as it is  @param name  text, still to be escaped
std::string html_link(const std::string& to, const std::string& name);

/// Which file of the browsable document each format, system and drawing has, and links to them.
class PageLinks {
public:
    explicit PageLinks(const table::Table& table);

    const std::string& file_of(const table::TapeFormat& format) const { return format_files_.at(format.id); }
    const std::string& file_of(const System& system) const;
    /// A path below the folder that no other page has: ids that differ only in their signs must not share one.
    std::string free_path(const std::string& wanted, const std::string& extension);

    /// @param to_top  the way from the linking page to the top of the folder
    std::string link(const table::TapeFormat& format, const std::string& to_top) const;
    std::string link(const System& system, const std::string& to_top) const;

private:
    std::map<std::string, std::string> format_files_, system_files_;
    std::set<std::string> taken_;
};

}  // namespace guardband::report
