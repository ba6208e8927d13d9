#include <cmath>

#include "report/counter_report.h"
#include "report/json.h"
#include "report/working_report.h"

namespace guardband::report {
namespace {

using calc::CounterAnswer;
using calc::CounterCard;
using calc::CounterPoint;
using calc::CounterQuery;

Json point_json(const CounterPoint& point) {
    return {{"reading", point.reading},
            {"reading_uncertainty", point.reading_uncertainty},
            {"seconds", point.seconds},
            {"seconds_uncertainty", point.seconds_uncertainty}};
}

Json points_json(const std::vector<CounterPoint>& points) {
    Json list = Json::array();
    for (const CounterPoint& point : points) list.push_back(point_json(point));
    return list;
}

Json model_json(const CounterAnswer& answer, const CounterQuery& query) {
    const calc::CounterFit& fit = answer.fit;
    Json json = {{"formula", "seconds = x + q x^2, x = a reading"},
                 {"reel", query.reel == calc::CountedReel::TakeUp ? "take-up" : "supply"},
                 {"a_s_per_count", fit.curve.start_s},
                 {"a_uncertainty", std::sqrt(fit.start_variance)},
                 {"q_per_s", fit.curve.bend_per_s},
                 {"q_uncertainty", std::sqrt(fit.bend_variance)},
                 {"covariance", fit.covariance},
                 {"degrees_of_freedom", fit.degrees_of_freedom},
                 {"widening", fit.widening},
                 {"uses_hub_and_thickness", fit.uses_known_bend}};
    json["counts_per_turn"] = answer.counts_per_turn ? Json(*answer.counts_per_turn) : Json(nullptr);
    json["counts_per_turn_assumed"] = answer.ratio_is_assumed;
    if (answer.fitted_thickness_um) json["thickness_um"] = *answer.fitted_thickness_um;
    if (fit.bend_contradiction) json["contradiction_ratio"] = *fit.bend_contradiction;
    return json;
}

Json doubtful_json(const CounterAnswer& answer, const CounterQuery& query) {
    const calc::DoubtfulPair& doubtful = *answer.fit.doubtful;
    Json json = {
        {"reading", query.pairs[doubtful.index].reading}, {"off_s", doubtful.off_s}, {"ratio", doubtful.ratio}};
    if (answer.answer_without_doubtful)
        json[query.reading ? "seconds_without_it" : "reading_without_it"] = *answer.answer_without_doubtful;
    return json;
}

}  // namespace

std::string counter_json(const CounterAnswer& answer, const CounterQuery& query, const CounterCard* card,
                         const table::Table& table, bool explain) {
    Json json = Json::object();
    if (query.format != nullptr) json["format"] = query.format->id;
    if (answer.grade.grade != nullptr) json["grade"] = answer.grade.grade->id;
    if (answer.mode != nullptr) json["address"] = address_of(*query.format, *answer.mode);
    for (const char* key : {"reading", "reading_uncertainty", "seconds", "seconds_uncertainty"}) json[key] = nullptr;
    if (answer.answer) json.update(point_json(*answer.answer));
    json["model"] = model_json(answer, query);
    json["pairs"] = Json::array();
    for (std::size_t i = 0; i < query.pairs.size(); ++i)
        json["pairs"].push_back({{"reading", query.pairs[i].reading},
                                 {"seconds", query.pairs[i].time_s},
                                 {"residual_s", answer.fit.residuals_s[i]}});
    if (answer.fit.doubtful) json["doubtful"] = doubtful_json(answer, query);
    if (answer.end) json["end"] = point_json(*answer.end);
    if (card != nullptr)
        json["card"] = {{"by_reading", points_json(card->by_reading)}, {"by_time", points_json(card->by_time)}};
    if (query.format != nullptr) json["table_version"] = table.edition.version;
    if (explain) json["working"] = working_json(answer.working);
    return to_text(json);
}

}  // namespace guardband::report
