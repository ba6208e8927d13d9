#include <fmt/format.h>

#include "identify/alike.h"
#include "report/identify_report.h"
#include "report/json.h"

namespace guardband::report {
namespace {

using identify::Answer;
using identify::Candidate;
using identify::KindInfo;
using identify::Models;
using identify::Observation;
using identify::Weight;

bool is_word(const Observation& seen) { return info_of(seen.kind).value == KindInfo::Value::Word; }

Json observed_json(const Observation& seen) {
    if (is_word(seen)) return seen.text;
    return seen.value;
}

/// Without the noise of logarithms: 19.05, not 19.049999999999997.
double tidy(double value) { return std::stod(fmt::format("{:.10g}", value)); }

Json expected_json(const Weight& weight, const Observation& seen) {
    if (is_word(seen)) return weight.expected_words.empty() ? Json(nullptr) : Json(weight.expected_words.front());
    return weight.expected ? Json(tidy(*weight.expected)) : Json(nullptr);
}

Json weight_json(const Weight& weight, const Answer& answer) {
    const Observation& seen = answer.observations[weight.observation];
    Json json = {{"kind", id_of(seen.kind)}, {"observed", observed_json(seen)}};
    if (!seen.context.empty()) json["at"] = seen.context;
    json["expected"] = expected_json(weight, seen);
    json["weight_db"] = weight.weight_db;
    return json;
}

Json candidate_json(const Candidate& candidate, const Answer& answer) {
    Json json = {
        {"address", candidate.model->address}, {"probability", candidate.probability}, {"evidence", Json::array()}};
    for (const Weight& weight : candidate.evidence) json["evidence"].push_back(weight_json(weight, answer));
    return json;
}

Json shares_json(const std::vector<identify::Share>& shares, const char* name) {
    Json json = Json::array();
    for (const auto& share : shares) json.push_back({{name, share.name}, {"probability", share.probability}});
    return json;
}

Json suspicions_json(const Answer& answer) {
    Json json = Json::array();
    for (const auto& suspicion : answer.suspicions)
        json.push_back({{"kind", id_of(answer.observations[suspicion.observation].kind)},
                        {"observation", suspicion.observation},
                        {"probability", suspicion.probability},
                        {"without", suspicion.without->address},
                        {"without_probability", suspicion.without_probability}});
    return json;
}

Json next_json(const Answer& answer, const Models& models) {
    Json json = Json::array();
    for (const auto& next : answer.next) {
        const table::EvidenceKind& entry = *models.data(next.kind).entry;
        json.push_back({{"kind", entry.id},
                        {"information_bits", next.bits},
                        {"minutes", entry.facts.known("effort")->in("min")},
                        {"needs", entry.needs},
                        {"needs_machine", entry.needs_machine}});
    }
    return json;
}

Json addresses_json(const std::vector<const identify::ModeModel*>& models) {
    Json json = Json::array();
    for (const auto* model : models) json.push_back(model->address);
    return json;
}

Json plays_json(const identify::Playable& plays) {
    Json players = Json::array();
    for (const auto& player : plays.players) {
        players.push_back(
            {{"id", player.machine->id}, {"name", player.machine->name}, {"set_to", plays.model->address}});
        if (!player.remark.empty()) players.back()["remark"] = player.remark;
    }
    return {{"address", plays.model->address}, {"machines", players}, {"missing", plays.missing}};
}

}  // namespace

std::string identify_json(const Answer& answer, const Models& models, const std::vector<identify::Playable>& plays) {
    Json candidates = Json::array();
    for (const Candidate& candidate : answer.candidates) candidates.push_back(candidate_json(candidate, answer));
    Json json = {{"candidates", std::move(candidates)},
                 {"fit", {{"p_value", answer.fit.p_value}, {"verdict", to_string(answer.fit.verdict)}}},
                 {"next", next_json(answer, models)},
                 {"formats", shares_json(by_format(answer), "format")},
                 {"suspicions", suspicions_json(answer)},
                 {"conflicting", answer.conflicting},
                 {"alike_outside_a_machine", addresses_json(answer.alike)},
                 {"not_tested", addresses_json(answer.not_tested)},
                 {"sentence", identify_sentence(answer)}};
    for (const identify::Playable& tape : plays) json["plays"].push_back(plays_json(tape));
    json["table_version"] = models.table().edition.version;
    return to_text(json);
}

std::string alike_json(const Models& models) {
    Json groups = Json::array();
    for (const auto& group : groups_alike(models)) {
        groups.push_back(Json::array());
        for (const std::size_t mode : group) groups.back().push_back(models.all()[mode].address);
    }
    return to_text(Json{{"groups", std::move(groups)}, {"table_version", models.table().edition.version}});
}

}  // namespace guardband::report
