#include "report/html_texts.h"

#include <fmt/format.h>

#include <numeric>

#include "table/fact.h"

namespace guardband::report {

std::string standing_bar(const std::vector<int>& counts) {
    const int total = std::accumulate(counts.begin(), counts.end(), 0);
    if (total == 0) return "";
    std::string bar, words;
    for (std::size_t i = 0; i < counts.size(); ++i) {
        if (counts[i] == 0) continue;
        bar += fmt::format("<span class=\"s{}\" style=\"flex:{}\"></span>", i + 1, counts[i]);
        words +=
            fmt::format("{}{} {}", words.empty() ? "" : ", ", counts[i], to_string(static_cast<table::Standing>(i)));
    }
    return fmt::format(
        "<div class=\"standing-bar\" aria-hidden=\"true\">{}</div>\n<p class=\"standing-key\">Of {} figures: {}.</p>\n",
        bar, total, words);
}

std::string_view standings_body() {
    return R"html(<h1>How to read the table</h1>
<div class="prose">
<p>No figure stands here without where it comes from. Behind each value is a mark: a number for a source of the page's list, or a letter for what has no document behind it. A small letter in brackets
leads to a remark, such as what another source says.</p>
<h2 id="standings">Standings</h2>
<p>How far a figure can be leaned on, the firmest first.</p>
<h3 id="standard">standard [number]</h3>
<p>Seen in the standard itself, or in an extract of it.</p>
<h3 id="published">published [number]</h3>
<p>Seen printed somewhere else: a book, an article, a data sheet, a page. The list of sources says how much of it was read.</p>
<h3 id="computed">computed [C]</h3>
<p>Worked out from other figures of the table by arithmetic; the remark says from which.</p>
<h3 id="common-practice">common practice [P]</h3>
<p>What the trade does, with no document to name for it.</p>
<h3 id="from-memory">from memory [M]</h3>
<p>Remembered, with no document to hand. The foot of the page names where such figures should be checked. Don't build on one before somebody has.</p>
<h2 id="values">Values</h2>
<ul>
<li>Digits are those of the source, so that its rounding shows: 58 is not 58.0.</li>
<li>A value printed in inches, feet or turns a minute comes first in the table's unit, then as printed: 381&nbsp;mm/s (15&nbsp;in/s).</li>
<li>± is a tolerance that a source gives, in the value's unit or as a share of it. Two numbers in brackets, (12 to 21), are the range that a source permits around the value; a range with a dash, 42–45, is
all that the source says.</li>
<li>= leads to the exact expression behind a rate: 626.953125&nbsp;kHz = (40 + 1/8) × line rate. Nothing is rounded before it is printed.</li>
<li>A dash means that nothing is known here. Why it is not known stands under <i>Not known</i>, where the table says so.</li>
<li>A figure that all modes share stands once; else it stands once for each scanning standard, or for each mode.</li>
</ul>
<h2 id="addresses">Addresses</h2>
<p>A mode of recording is named by its format, scanning standard and mode: vhs:625/50:LP. Commands and other programs take the same names.</p>
</div>
)html";
}

}  // namespace guardband::report
