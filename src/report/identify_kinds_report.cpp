#include <fmt/format.h>

#include "identify/alike.h"
#include "report/figure_page.h"
#include "report/identify_report.h"
#include "report/json.h"
#include "report/text_table.h"
#include "report/working_report.h"
#include "table/schema.h"

namespace guardband::report {
namespace {

using identify::KindInfo;

constexpr std::size_t indent = 2;

std::string paragraph(const std::string& text) { return "  " + wrapped(text, page_width, indent) + "\n"; }

/// How it is written on the command line.
std::string example_of(const KindInfo& info) {
    std::string text(info.id);
    switch (info.kind) {
        case identify::Kind::Shell:
            return text + "=vhs";
        case identify::Kind::Label:
            return text + "=E-180";
        case identify::Kind::Colour:
            return text + "=PAL";
        case identify::Kind::ReelPeriod:
            return text + "=3.49@26.0";
        case identify::Kind::ControlTrackRate:
            return text + "=25.0@vhs:625/50:SP";
        case identify::Kind::SoundSpeedRatio:
            return text + "=2.0@vhs:625/50:SP";
        case identify::Kind::ProgrammeTime:
            return text + "=3:03:50";
        case identify::Kind::TapeWidth:
            return text + "=12.65";
        case identify::Kind::PackOuter:
            return text + "=84.2";
        case identify::Kind::PackHub:
            return text + "=26.0";
        case identify::Kind::TracksPerMm:
            return text + "=2.14";
        case identify::Kind::TrackPitch:
            return text + "=49";
        case identify::Kind::TrackAngle:
            return text + "=5.96";
        case identify::Kind::FieldRate:
            return text + "=50.0";
        case identify::Kind::LineRate:
            return text + "=15625";
        case identify::Kind::LumaBandwidth:
            return text + "=2.9";
        case identify::Kind::SoundBandwidth:
            return text + "=7.5";
    }
    return text;
}

std::string usual_text(const table::EvidenceKind& entry) {
    const double minutes = entry.facts.known("effort")->in("min");
    std::string text = fmt::format("{:.0f} min; takes: {}.", minutes, entry.needs);
    if (const table::Fact* scatter = entry.facts.known("scatter"))
        text += fmt::format(" Taken as good to {:.2g} % unless you say ±.", scatter->in("%"));
    return text +
           fmt::format(" {:.2g} in a hundred are reckoned with as mistakes.", entry.facts.known("blunders")->in("%"));
}

std::string kind_text(const KindInfo& info, const table::EvidenceKind& entry) {
    std::string text =
        fmt::format("\n{} – {}{}\n", info.id, entry.title, info.unit.empty() ? "" : fmt::format(", {}", info.unit));
    text += paragraph(entry.measures);
    text += paragraph("How: " + entry.how);
    text += paragraph("Effort: " + usual_text(entry));
    return text + paragraph("Write: --observe " + example_of(info));
}

/// What stands in no reading: how many tapes are in another standard's cassette and the like.
std::string judged_text(const table::Table& table) {
    std::string text = "\n" +
                       wrapped(
                           "Taken for granted of all tapes together. These are judgements of practice; a file "
                           "evidence.toml in a folder given with --formats replaces them:",
                           page_width) +
                       "\n";
    for (const table::KeyRule& rule : table::key_rules()) {
        if (rule.section != table::SectionKind::TapesAtLarge) continue;
        const table::Fact& fact = *table.tapes_at_large.known(rule.key);
        const bool bare = fact.unit == &quantity::no_unit();
        text += fmt::format("  {:<42} {:>4}{}\n", rule.title, fact.printed,
                            bare ? "" : fmt::format(" {}", fact.unit->name));
    }
    return text;
}

}  // namespace

std::string evidence_kinds_text(const table::Table& table) {
    std::string text = wrapped(
                           "Kinds of evidence that identify weighs. Give any of them, in any number, with --observe "
                           "KIND=VALUE; a value may "
                           "carry ± and its standard uncertainty. On the tape itself, without a machine:",
                           page_width) +
                       "\n";
    for (const bool machine : {false, true}) {
        if (machine) text += "\nOnly by playing the tape:\n";
        for (const KindInfo& info : identify::all_kinds()) {
            const table::EvidenceKind& entry = *data_of(table, info.kind).entry;
            if (entry.needs_machine == machine) text += kind_text(info, entry);
        }
    }
    return text + judged_text(table) +
           cautions_text(table, {"mould", "sticky", "damaged", "mains", "rotating-drum", "solvents"}) + "\n" +
           wrapped(edition_text(table.edition) + ".", page_width) + "\n";
}

std::string evidence_kinds_json(const table::Table& table) {
    Json kinds = Json::array();
    for (const KindInfo& info : identify::all_kinds()) {
        const table::EvidenceKind& entry = *data_of(table, info.kind).entry;
        Json json = {{"kind", info.id},
                     {"title", entry.title},
                     {"unit", info.unit},
                     {"measures", entry.measures},
                     {"how", entry.how},
                     {"needs", entry.needs},
                     {"needs_machine", entry.needs_machine},
                     {"example", example_of(info)}};
        for (const table::Fact& fact : entry.facts.all()) json[fact.key] = to_json(fact);
        json["source"] = entry.source;
        json["standing"] = to_string(entry.standing);
        kinds.push_back(std::move(json));
    }
    Json judged = Json::object();
    for (const table::Fact& fact : table.tapes_at_large.all()) judged[fact.key] = to_json(fact);
    return to_text(with_edition(Json{{"kinds", std::move(kinds)}, {"tapes_at_large", std::move(judged)}}, table));
}

std::string alike_text(const identify::Models& models) {
    std::string text =
        wrapped(
            "Modes that nothing tells apart on the tape itself, without a machine: neither its width nor its shell nor "
            "what "
            "its tracks show, measured with usual care. Modes whose tracks the table does not know are left out.",
            page_width) +
        "\n\n";
    for (const auto& group : groups_alike(models)) {
        std::string line;
        for (const std::size_t mode : group) line += (line.empty() ? "" : ", ") + models.all()[mode].address;
        text += paragraph(line);
    }
    return text + "\n" + wrapped(edition_text(models.table().edition) + ".", page_width) + "\n";
}

}  // namespace guardband::report
