#include "identify/cassettes.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "calc/full_pack.h"
#include "calc/pack_query.h"
#include "identify/beliefs.h"

namespace guardband::identify {
namespace {

using calc::PackSize;
using table::Fact;

Normal with_scatter(const Fact& fact, std::string_view unit, double scatter) {
    const TableFigure figure = figure_of(&fact, unit);
    return {0, std::log(*figure.value), *figure.relative * *figure.relative + scatter * scatter};
}

Normal thickness_of(const Fact* fact, const Judgement& judged, const CassetteSpread& spread) {
    Normal thickness = fact == nullptr ? spread.thickness_um : with_scatter(*fact, "µm", judged.thickness_scatter);
    thickness.mean += std::log1p(judged.winding_air);
    thickness.variance += judged.winding_air_scatter * judged.winding_air_scatter;
    return thickness;
}

Cassette listed(const table::TapeFormat& format, const table::GradeOfFormat& listed, const Judgement& judged,
                const CassetteSpread& spread) {
    Cassette cassette{listed.owner,        listed.grade,  {},    {},   0, spread.length_m,
                      spread.thickness_um, spread.hub_mm, false, false};
    cassette.names.push_back(plain_label(listed.grade->id));
    for (const std::string& alias : listed.grade->aliases) cassette.names.push_back(plain_label(alias));
    if (const table::Shell* shell = calc::shell_of(*listed.owner, *listed.grade)) cassette.shell = shell->id;
    const Fact* length = calc::pack_fact(PackSize::Length, &format, listed);
    const Fact* hub = calc::pack_fact(PackSize::Hub, &format, listed);
    if (length != nullptr) cassette.length_m = with_scatter(*length, "m", judged.length_scatter);
    if (hub != nullptr) cassette.hub_mm = with_scatter(*hub, "mm", judged.hub_scatter);
    cassette.thickness_um = thickness_of(calc::pack_fact(PackSize::Thickness, &format, listed), judged, spread);
    cassette.knows_length = length != nullptr;
    cassette.knows_hub = hub != nullptr;
    return cassette;
}

Cassette unlisted(const table::TapeFormat& format, const Judgement& judged, const CassetteSpread& spread) {
    return {&format,
            nullptr,
            {},
            {},
            0,
            spread.length_m,
            thickness_of(format.tape.known("thickness"), judged, spread),
            spread.hub_mm,
            false,
            false};
}

}  // namespace

CassetteSpread cassette_spread(const table::Table& table) {
    std::vector<double> lengths, thicknesses, hubs;
    for (const table::TapeFormat& format : table.formats)
        for (const table::Grade& grade : format.grades) {
            const table::GradeOfFormat of{&format, &grade};
            const auto add = [&](PackSize size, const char* unit, std::vector<double>& values) {
                if (const Fact* fact = calc::pack_fact(size, &format, of)) values.push_back(fact->in(unit));
            };
            add(PackSize::Length, "m", lengths), add(PackSize::Thickness, "µm", thicknesses);
            add(PackSize::Hub, "mm", hubs);
        }
    return {wide_normal(lengths), wide_normal(thicknesses), wide_normal(hubs)};
}

std::shared_ptr<const Cassettes> cassettes_of(const Models& models, const table::TapeFormat& format,
                                              const std::string& system, const CassetteSpread& spread) {
    const Judgement& judged = models.judgement();
    auto cassettes = std::make_shared<Cassettes>();
    std::vector<double> weights;
    double sum = 0;
    for (const table::GradeOfFormat& grade : models.table().grades_in(format)) {
        cassettes->all.push_back(listed(format, grade, judged, spread));
        const std::string& counts = grade.grade->label_system;
        weights.push_back(counts.empty() || counts == system ? 1 : judged.other_standard_cassette);
        sum += weights.back();
    }
    const double unlisted_part = weights.empty() ? 1 : judged.unlisted_grades;
    for (const double weight : weights) cassettes->log_shares.push_back(std::log((1 - unlisted_part) * weight / sum));
    cassettes->all.push_back(unlisted(format, judged, spread));
    cassettes->log_shares.push_back(std::log(unlisted_part));
    for (Cassette& cassette : cassettes->all)
        if (!cassette.shell.empty()) cassette.shell_at = models.shell_place(cassette.shell);
    for (const table::Shell& shell : format.shells) {
        cassettes->shells.push_back(shell.id);
        cassettes->shells_at.push_back(models.shell_place(shell.id));
    }
    return cassettes;
}

}  // namespace guardband::identify
