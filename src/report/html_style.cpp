#include "report/html.h"

namespace guardband::report {

std::string_view style_sheet() {
    return R"css(/* One column of text, tables as wide as what they say; two palettes by the reader's own setting. */
:root {
  color-scheme: light dark;
  --paper: #fcfbf8; --ink: #1d1c1a; --quiet: #5f5b53; --line: #d8d3c7; --band: #f3f0e8; --link: #0c4a6e; --mark: #8a3324;
  --prose: Charter, "Bitstream Charter", "Iowan Old Style", Georgia, serif;
  --figures: system-ui, "Segoe UI", "Helvetica Neue", "DejaVu Sans", sans-serif;
}
@media (prefers-color-scheme: dark) {
  :root { --paper: #15171a; --ink: #e7e4dc; --quiet: #a9a599; --line: #3a3c40; --band: #1e2125; --link: #8cc8e8; --mark: #f0a58f; }
}
* { box-sizing: border-box; }
html { font-size: 106%; -webkit-text-size-adjust: 100%; }
body { margin: 0 auto; padding: 0 1.25rem 3rem; max-width: 68rem; background: var(--paper); color: var(--ink); font-family: var(--prose); line-height: 1.5; }
a { color: var(--link); text-underline-offset: .15em; text-decoration-thickness: from-font; }
a:focus-visible { outline: 2px solid var(--link); outline-offset: 2px; }
.skip { position: absolute; left: -99rem; }
.skip:focus { position: static; }
header.site { border-bottom: 1px solid var(--line); padding: .9rem 0 .6rem; margin-bottom: 1.6rem; font-family: var(--figures); font-size: .85rem; }
header.site nav { display: flex; flex-wrap: wrap; gap: .2rem 1.4rem; align-items: baseline; }
header.site .name { font-weight: 600; margin-right: auto; color: var(--ink); text-decoration: none; }
header.site a[aria-current] { color: var(--ink); text-decoration: none; border-bottom: 2px solid var(--mark); }
h1 { font-size: 1.9rem; line-height: 1.2; font-weight: 600; margin: 0 0 .3rem; text-wrap: balance; }
h2 { font-size: 1.2rem; font-weight: 600; margin: 2.4rem 0 .5rem; padding-top: .35rem; border-top: 2px solid var(--ink); }
h3 { font-size: 1rem; font-weight: 600; margin: 1.4rem 0 .4rem; }
p, .prose li { max-width: 42rem; }
.lead { color: var(--quiet); margin: .1rem 0; }
.scroll { overflow-x: auto; margin: 0 0 1rem; }
table { border-collapse: collapse; font-family: var(--figures); font-size: .86rem; font-variant-numeric: tabular-nums lining-nums; line-height: 1.4; }
caption { text-align: left; color: var(--quiet); padding: .2rem 0; }
th, td { text-align: left; vertical-align: top; padding: .28rem 1.3rem .28rem 0; border-bottom: 1px solid var(--line); font-weight: 400; }
th:last-child, td:last-child { padding-right: .2rem; }
thead th { color: var(--quiet); white-space: nowrap; vertical-align: bottom; border-bottom: 1px solid var(--quiet); }
thead th.over { border-bottom: 0; padding-bottom: 0; color: var(--ink); font-weight: 600; }
tbody th { color: var(--quiet); min-width: 9rem; width: 15rem; }
td.number, th.number { text-align: right; white-space: nowrap; }
td.none { color: var(--quiet); }
.unit { white-space: nowrap; }
.mark { font-size: .74rem; text-decoration: none; color: var(--mark); white-space: nowrap; margin-left: .15em; }
.mark:hover { text-decoration: underline; }
.notes { font-size: .92rem; }
.notes li { margin: .18rem 0; max-width: 46rem; padding-left: .2rem; }
.notes li:target, tr:target { background: var(--band); }
ol.remarks { list-style-type: lower-alpha; }
.seen, .quiet { color: var(--quiet); }
.standing-bar { display: flex; height: .55rem; max-width: 30rem; margin: .9rem 0 .25rem; border: 1px solid var(--quiet); }
.standing-bar span { display: block; border-right: 1px solid var(--paper); }
.s1 { background: var(--ink); } .s2 { background: var(--quiet); }
.s3 { background: repeating-linear-gradient(135deg, var(--quiet) 0 2px, transparent 2px 5px); }
.s4 { background: repeating-linear-gradient(90deg, var(--line) 0 2px, transparent 2px 5px); } .s5 { background: transparent; }
.standing-key { font-family: var(--figures); font-size: .8rem; color: var(--quiet); margin: 0; }
.contents { font-family: var(--figures); font-size: .85rem; margin: 1rem 0 0; padding: 0; display: flex; flex-wrap: wrap; gap: .1rem 1.1rem; list-style: none; }
thead tr:first-child:not(:last-child) td { border-bottom: 0; }
.scroll tbody th { position: sticky; left: 0; background: var(--paper); }
figure { margin: 1rem 0; }
.drawings { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(26rem, 100%), 1fr)); gap: 0 1.2rem; }
figure img { max-width: 100%; height: auto; background: #fff; border: 1px solid var(--line); }
figcaption { font-size: .88rem; color: var(--quiet); }
.index tbody th { min-width: 12rem; width: 16rem; }
.index td { min-width: 5.5rem; }
.index td:last-child { min-width: 15rem; }
.index tbody th a { font-weight: 600; }
.formats td:nth-child(2), .formats td:nth-child(3) { min-width: 10.5rem; }
.formats td:nth-child(4) { min-width: 4rem; }
.formats td:nth-child(5) { white-space: nowrap; min-width: 7rem; }
.systems tbody th { min-width: 7rem; width: 9rem; }
.systems td:nth-child(2) { min-width: 12rem; }
.systems td:last-child { min-width: 0; }
.sources tbody th { width: 26rem; min-width: 15rem; color: var(--ink); }
.sources tbody th a { font-weight: 400; }
footer { margin-top: 3rem; border-top: 1px solid var(--line); padding-top: .6rem; font-family: var(--figures); font-size: .8rem; color: var(--quiet); }
@media (max-width: 40rem) {
  body { padding: 0 .9rem 2rem; }
  h1 { font-size: 1.5rem; }
  tbody th { min-width: 7rem; width: auto; }
  .index tbody th { min-width: 9rem; }
  th, td { padding-right: .8rem; }
}
@media print {
  :root { --paper: #fff; --ink: #000; --quiet: #444; --line: #bbb; --band: #fff; --link: #000; --mark: #000; }
  html { font-size: 9.5pt; }
  body { max-width: none; padding: 0; }
  h2 { margin-top: 1.3rem; }
  .scroll tbody th { position: static; }
  header.site nav a:not(.name), .contents, .skip { display: none; }
  h2, h3, thead { break-after: avoid; }
  tr, figure, .notes li { break-inside: avoid; }
  .scroll { overflow: visible; }
  a { text-decoration: none; }
}
)css";
}

}  // namespace guardband::report
