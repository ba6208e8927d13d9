#include <fmt/format.h>

#include <cctype>

#include "report/identify_report.h"
#include "report/identify_words.h"

namespace guardband::report {
namespace {

using identify::Answer;
using identify::Candidate;
using identify::FitVerdict;
using identify::ModeModel;

std::string capital(std::string text) {
    if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
    return text;
}

/// Modes of the leading format, or of its leading system, that are still open.
std::string open_modes(const Answer& answer, const ModeModel& leader, bool one_system) {
    std::string text;
    for (const Candidate& candidate : answer.candidates) {
        if (candidate.probability < 0.02 || candidate.model->format != leader.format) continue;
        if (one_system && candidate.model->mode->system != leader.mode->system) continue;
        const std::string name =
            one_system ? candidate.model->mode->id : candidate.model->mode->system + " " + candidate.model->mode->id;
        text += (text.empty() ? "" : ", ") + name + " " + percent(candidate.probability);
    }
    return text;
}

/// Is it one system, or one mode of one name, whichever of the family's formats it is?
template <typename Same>
double share_of(const Answer& answer, Same same) {
    double sum = 0;
    for (const Candidate& candidate : answer.candidates)
        if (same(*candidate.model)) sum += candidate.probability;
    return sum;
}

/// `VHS family, 625/50, SP, 98 %: S-VHS 49 %, VHS 49 %.` where formats of one family lead together; else empty.
std::string family_sentence(const Answer& answer) {
    const ModeModel& leader = *answer.candidates[0].model;
    const std::string& family = leader.format->family;
    const auto of_family = [&](const ModeModel& model) { return !family.empty() && model.format->family == family; };
    const auto of_system = [&](const ModeModel& m) { return of_family(m) && m.mode->system == leader.mode->system; };
    const auto of_mode = [&](const ModeModel& m) { return of_system(m) && m.mode->id == leader.mode->id; };
    double share = share_of(answer, of_family);
    if (share < settled_share) return "";
    std::string name = family;
    if (share_of(answer, of_system) >= settled_share)
        name += ", " + leader.mode->system, share = share_of(answer, of_system);
    if (share_of(answer, of_mode) >= settled_share) name += mode_words(*leader.mode), share = share_of(answer, of_mode);
    std::string formats;
    for (const identify::Share& format : by_format(answer))
        if (format.probability >= 0.02)
            formats += (formats.empty() ? "" : "; ") + format.title + " " + percent(format.probability);
    return fmt::format("{}, {}; but which format is open: {}.", name, percent(share), formats);
}

std::string settled_sentence(const Answer& answer) {
    const Candidate& first = answer.candidates[0];
    const ModeModel& model = *first.model;
    if (first.probability >= settled_share) return mode_name(model) + ", " + percent(first.probability) + ".";
    const identify::Share system = by_system(answer).front(), format = by_format(answer).front();
    const bool leads_system = system.name == model.format->id + ":" + model.mode->system;
    if (system.probability >= settled_share && leads_system)
        return fmt::format("{}, {}, {}; its mode is open: {}.", model.format->name, model.mode->system,
                           percent(system.probability), open_modes(answer, model, true));
    if (format.probability >= settled_share && format.name == model.format->id)
        return fmt::format("{}, {}; its mode is open: {}.", model.format->name, percent(format.probability),
                           open_modes(answer, model, false));
    if (const std::string family = family_sentence(answer); !family.empty()) return family;
    return fmt::format("Not settled: {}, {}, or {}, {}{}.", mode_name(model), percent(first.probability),
                       mode_name(*answer.candidates[1].model), percent(answer.candidates[1].probability),
                       answer.candidates[2].probability > 0.02 ? ", or others" : "");
}

}  // namespace

std::string percent(double share) {
    if (share >= 0.9995) return "over 99.9 %";
    if (share >= 0.99 || share < 0.1) return fmt::format("{:.1f} %", 100 * share);
    return fmt::format("{:.0f} %", 100 * share);
}

std::string mode_words(const table::Mode& mode) {
    if (mode.id == "standard") return "";
    return (mode.id.find_first_not_of("IVs") == std::string::npos ? ", speed " : ", ") + mode.id;
}

std::string mode_name(const ModeModel& model) {
    return model.format->name + ", " + model.mode->system + mode_words(*model.mode);
}

std::string identify_sentence(const Answer& answer) {
    if (answer.observations.empty()) return "No evidence yet: every format is as likely as it was before.";
    if (answer.fit.verdict == FitVerdict::NoKnownFormat)
        return fmt::format("No known format fits; the nearest is {}.", mode_name(*answer.candidates[0].model));
    return capital(settled_sentence(answer));
}

}  // namespace guardband::report
