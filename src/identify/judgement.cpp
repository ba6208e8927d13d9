#include "identify/judgement.h"

#include <algorithm>
#include <string>

#include "quantity/errors.h"

namespace guardband::identify {
namespace {

const table::Fact& judged(const table::Facts& facts, std::string_view key) {
    const table::Fact* fact = facts.known(key);
    if (fact == nullptr || !fact->is_number())
        throw quantity::DomainError("the table does not judge " + std::string(key));
    return *fact;
}

double share(const table::Facts& facts, std::string_view key) { return judged(facts, key).in("share"); }

Trust trust_of(const table::Table& table, table::Standing standing) {
    const auto found = std::ranges::find(table.trusts, to_string(standing), &table::Trust::id);
    if (found == table.trusts.end())
        throw quantity::DomainError("the table does not say how far figures are believed that are " +
                                    std::string(to_string(standing)));
    return {share(found->facts, "off_by"), share(found->facts, "wrong")};
}

}  // namespace

Judgement judgement_of(const table::Table& table) {
    const table::Facts& facts = table.tapes_at_large;
    Judgement judgement;
    for (std::size_t i = 0; i < judgement.trust.size(); ++i)
        judgement.trust[i] = trust_of(table, static_cast<table::Standing>(i));
    judgement.other_standard_machine = share(facts, "other_standard_machine");
    judgement.drum_rate_scatter = share(facts, "drum_rate_scatter");
    judgement.grey_of_grey_formats = share(facts, "grey_of_grey_formats");
    judgement.grey_of_colour_formats = share(facts, "grey_of_colour_formats");
    judgement.grey_of_others = share(facts, "grey_of_others");
    judgement.from_elsewhere = share(facts, "from_elsewhere");
    judgement.other_standard_cassette = share(facts, "other_standard_cassette");
    judgement.unlisted_grades = share(facts, "unlisted_grades");
    judgement.unlisted_with_listed_label = share(facts, "unlisted_with_listed_label");
    judgement.length_scatter = share(facts, "length_scatter");
    judgement.thickness_scatter = share(facts, "thickness_scatter");
    judgement.hub_scatter = share(facts, "hub_scatter");
    judgement.winding_air = share(facts, "winding_air");
    judgement.winding_air_scatter = share(facts, "winding_air_scatter");
    judgement.like_shell_within = share(facts, "like_shell_within");
    judgement.like_shell_mistaken = *judged(facts, "like_shell_mistaken").value;
    return judgement;
}

}  // namespace guardband::identify
