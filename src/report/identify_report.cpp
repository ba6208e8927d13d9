#include "report/identify_report.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "calc/number_text.h"
#include "report/figure_page.h"
#include "report/identify_words.h"
#include "report/text_table.h"
#include "report/working_report.h"

namespace guardband::report {
namespace {

using identify::Answer;
using identify::Candidate;
using identify::FitVerdict;
using identify::Kind;
using identify::KindInfo;
using identify::Models;
using identify::ModeModel;
using identify::Observation;
using identify::Weight;

constexpr double least_shown = 0.005;
constexpr std::size_t most_candidates = 8, most_next = 4;
constexpr double worthless_bits = 0.02;  // a measurement that promises less is not worth a line

/// Broken into lines, but never between a number and its per cent or decibels.
std::string wrapped_whole(std::string text, std::size_t indent) {
    constexpr char held = '\x01';
    for (const std::string_view unit : {" %", " dB"})
        for (std::size_t at = text.find(unit); at != std::string::npos; at = text.find(unit, at + 1)) text[at] = held;
    text = wrapped(text, page_width, indent);
    std::ranges::replace(text, held, ' ');
    return text;
}

std::string paragraph(const std::string& text) { return "  " + wrapped_whole(text, 2) + "\n"; }

std::string unit_after(const KindInfo& info) { return info.unit.empty() ? "" : " " + std::string(info.unit); }

/// As it was given, with the unit where none was.
std::string observed_text(const Observation& seen) {
    const KindInfo& info = info_of(seen.kind);
    const bool has_unit =
        info.value == KindInfo::Value::Word || seen.text.find_first_not_of("0123456789.±+-/%eE ") != std::string::npos;
    // "±" is two bytes, both of which stand in the list above.
    return seen.text + (has_unit || info.value == KindInfo::Value::Time ? "" : unit_after(info)) +
           (seen.context.empty() ? "" : " @" + seen.context);
}

std::string number_text(const KindInfo& info, double value) {
    if (info.value == KindInfo::Value::Time) return quantity::h_mm_ss(value);
    return calc::significant(value, 4) + unit_after(info);
}

std::string expected_text(const Weight& weight, const Observation& seen) {
    const KindInfo& info = info_of(seen.kind);
    if (weight.absent) return "has none";
    if (info.value != KindInfo::Value::Word)
        return weight.expected ? number_text(info, *weight.expected) : "not in the table";
    std::string text;
    for (const std::string& word : weight.expected_words) text += (text.empty() ? "" : ", ") + word;
    return text.empty() ? "not in the table" : text;
}

std::string reasons_text(const Answer& answer, const Candidate& candidate) {
    using enum TextTable::Align;
    TextTable rows({{"observed", Left}, {"", Left}, {"expected", Left}, {"weight", Right}});
    for (const Weight& weight : candidate.evidence) {
        const Observation& seen = answer.observations[weight.observation];
        rows.add_wrapped({std::string(id_of(seen.kind)), observed_text(seen), expected_text(weight, seen),
                          fmt::format("{:+.1f} dB", weight.weight_db)},
                         26);
    }
    return "\nWhy " + candidate.model->address + "\n" + rows.to_string("  ") +
           paragraph(
               "Weight: how much likelier the observation is with it than, in the mean, with all other modes, the "
               "other observations given: +10 dB ten times, −10 dB a tenth.");
}

std::string candidates_text(const Answer& answer) {
    using enum TextTable::Align;
    TextTable rows({{"", Left}, {"", Right}});
    double rest = 0;
    std::size_t count = 0;
    for (const Candidate& candidate : answer.candidates) {
        if (candidate.probability >= least_shown && count < most_candidates) {
            rows.add({candidate.model->address, percent(candidate.probability)});
            ++count;
        } else {
            rest += candidate.probability;
        }
    }
    if (rest > 0.0005) rows.add({fmt::format("{} others", answer.candidates.size() - count), percent(rest)});
    return "\nCandidates\n" + rows.to_string("  ");
}

std::string sums_text(const Answer& answer) {
    const identify::Share format = by_format(answer).front(), system = by_system(answer).front();
    if (answer.candidates[0].probability >= settled_share) return "";
    return paragraph(fmt::format("Together: {} {}, {} {}.", format.name, percent(format.probability), system.name,
                                 percent(system.probability)));
}

std::string name_of(const Answer& answer, std::size_t observation) {
    const Observation& seen = answer.observations[observation];
    return std::string(id_of(seen.kind)) + " " + observed_text(seen);
}

std::string contradictions_text(const Answer& answer) {
    std::string text;
    if (!answer.conflicting.empty()) {
        std::string names;
        for (const std::size_t i : answer.conflicting) names += (names.empty() ? "" : " and ") + name_of(answer, i);
        text += paragraph(names + " do not agree with each other: at least one is wrong.");
    }
    for (const auto& suspicion : answer.suspicions)
        text += paragraph(fmt::format("{} is likely a mistake ({}). Without it: {}, {}.",
                                      name_of(answer, suspicion.observation), percent(suspicion.probability),
                                      mode_name(*suspicion.without), percent(suspicion.without_probability)));
    if (answer.fit.verdict == FitVerdict::Strained && text.empty())
        text = paragraph(
            "No observation is likely a mistake by itself, but the evidence lies further off than it should: see "
            "what is expected above, and read again what differs.");
    return text.empty() ? "" : "\nWhat contradicts\n" + text;
}

std::string fit_text(const Answer& answer) {
    if (answer.observations.empty()) return "";
    return paragraph(fmt::format(
        "Fit: {} (p = {}): {} of tapes of the leading kinds give evidence that lies at least as "
        "far off.",
        to_string(answer.fit.verdict), calc::significant(answer.fit.p_value, 2), percent(answer.fit.p_value)));
}

/// The measurements with or without a machine that promise most.
std::string next_rows(const Answer& answer, const Models& models, bool with_machine) {
    using enum TextTable::Align;
    TextTable rows({{with_machine ? "by playing it" : "on the tape itself", Left},
                    {"bits", Right},
                    {"min", Right},
                    {"takes", Left}});
    std::size_t count = 0;
    for (const auto& next : answer.next) {
        const table::EvidenceKind& entry = *models.data(next.kind).entry;
        if (entry.needs_machine != with_machine || next.bits < worthless_bits || count == most_next) continue;
        rows.add_wrapped({entry.id, fmt::format("{:.2f}", next.bits),
                          fmt::format("{:.0f}", entry.facts.known("effort")->in("min")), entry.needs},
                         40);
        ++count;
    }
    return rows.is_empty() ? "" : rows.to_string("  ");
}

std::string next_text(const Answer& answer, const Models& models) {
    const std::string by_hand = next_rows(answer, models, false), by_machine = next_rows(answer, models, true);
    if (by_hand.empty() && by_machine.empty())
        return "\nMeasure next\n" + paragraph("Nothing that the table knows of would tell much more.");
    const std::string rows = by_hand + (by_hand.empty() || by_machine.empty() ? "" : "\n") + by_machine;
    return "\nMeasure next\n" + rows +
           paragraph(
               "Bits: by how much the doubt about the mode should shrink; 1 halves it. `guardband identify --kinds` "
               "says how to measure each.");
}

std::string list_of(const std::vector<const ModeModel*>& models) {
    std::string text;
    for (const ModeModel* model : models) text += (text.empty() ? "" : ", ") + model->address;
    return text;
}

bool observed(const Answer& answer, Kind kind) {
    return std::ranges::any_of(answer.observations, [&](const Observation& seen) { return seen.kind == kind; });
}

std::string limits_text(const Answer& answer) {
    std::string text;
    if (!answer.alike.empty())
        text += paragraph("On the tape itself, without a machine, nothing tells " +
                          answer.candidates[0].model->address + " from " + list_of(answer.alike) + ".");
    if (!answer.not_tested.empty())
        text += paragraph("Not ruled out, but not fully tested either, for the table lacks some of their figures: " +
                          list_of(answer.not_tested) + ".");
    if (observed(answer, Kind::FieldRate) || observed(answer, Kind::LineRate))
        text += paragraph(
            "Field and line rate follow the drum of the machine that played, not the tape: they tell the "
            "recording's system only as far as that drum locked to it.");
    for (const Observation& seen : answer.observations)
        if (seen.kind == Kind::ControlTrackRate && !seen.played_mm_s) {
            text += paragraph(
                "A control-track rate without @ is taken as played at the speed it was recorded at; name the "
                "machine's mode if it was not.");
            break;
        }
    text += paragraph(
        "Formats that are not in the table are not among the candidates, and before the evidence all that are count as "
        "equally likely, however rare, unless --region or --prior says otherwise.");
    return "\nWhat this can't tell\n" + text;
}

std::string plays_text(const identify::Playable& plays) {
    std::string text = "\nWhat plays " + plays.model->address + "\n";
    for (const auto& player : plays.players)
        text += paragraph(fmt::format("{}{}{}", player.machine->name,
                                      player.machine->condition.empty() ? "" : " (" + player.machine->condition + ")",
                                      player.remark.empty()
                                          ? ": set to " + plays.model->mode->system + mode_words(*plays.model->mode)
                                          : ": " + player.remark));
    if (plays.players.empty()) text += paragraph("Nothing on the shelf.");
    for (const std::string& missing : plays.missing) text += paragraph(missing + ".");
    return text;
}

}  // namespace

std::string identify_text(const Answer& answer, const Models& models, const std::vector<identify::Playable>& plays) {
    std::string text = wrapped_whole(identify_sentence(answer), 0) + "\n";
    if (!answer.observations.empty()) {
        text += reasons_text(answer, answer.candidates[0]);
        text += candidates_text(answer) + sums_text(answer) + fit_text(answer);
        text += contradictions_text(answer);
    }
    text += next_text(answer, models);
    for (const identify::Playable& tape : plays) text += plays_text(tape);
    if (!answer.observations.empty()) text += limits_text(answer);
    text += cautions_text(models.table(), {"mould", "sticky", "damaged", "mains"});
    return text + "\n" + wrapped(edition_text(models.table().edition) + ".", page_width) + "\n";
}

}  // namespace guardband::report
