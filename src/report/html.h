#pragma once

#include <string>
#include <string_view>

#include "report/figure_page.h"

namespace guardband::report {

/// The text with `& < > "` written so that a browser shows them as they are.
std::string html_text(std::string_view text);

/// An id as part of a file name or an anchor: lower case, what is no letter, digit or dot becomes a hyphen. `625/50` →
/// `625-50`.
std::string slug(std::string_view id);

/// Where a page stands in the folder, and so how it reaches the others.
struct PagePlace {
    std::string title;   ///< of the browser's window and the top heading
    std::string to_top;  ///< `` at the top of the folder, `../` one level down
    std::string
        current;  ///< which of the navigation's entries it belongs to: `formats`, `systems`, `sources`, `standings`
};

/// A whole document: head, navigation, the body between, and a footer with the edition.
std::string html_document(const PagePlace& place, const std::string& body, const table::Edition& edition);

/// The groups of a page as sections with tables, each cell with links to its sources, remarks and standing.
std::string groups_html(const FigurePage& page, const std::string& to_top);

/// What is not known, the remarks and the sources of a page.
std::string notes_html(const FigurePage& page, const std::string& to_top);

/// The style sheet of all pages.
std::string_view style_sheet();

}  // namespace guardband::report
