#include "report/system_page.h"

#include <fmt/format.h>

#include <algorithm>

#include "report/figure_groups.h"
#include "report/format_page.h"

namespace guardband::report {
namespace {

using table::Colour;
using table::Fact;
using table::KeyRule;
using table::Scanning;
using table::SectionKind;
using table::Table;
using table::Transmission;

template <typename Entry>
std::vector<std::string> ids_on(const std::vector<Entry>& entries, const Scanning& scanning) {
    std::vector<std::string> ids;
    for (const Entry& entry : entries)
        if (entry.scanning == scanning.id) ids.push_back(entry.id);
    return ids;
}

void add_list(std::vector<std::string>& lines, const std::string& what, const std::vector<std::string>& ids) {
    if (!ids.empty()) lines.push_back(what + ": " + joined(ids) + ".");
}

std::vector<std::string> belongings_of(const Table& table, const Scanning& scanning) {
    std::vector<std::string> lines;
    add_list(lines, "Colour systems on it", ids_on(table.colours, scanning));
    add_list(lines, "Transmission systems on it", ids_on(table.transmissions, scanning));
    return lines;
}

std::vector<std::string> belongings_of(const Table& table, const Colour& colour) {
    std::vector<std::string> lines{"On the scanning standard " + colour.scanning +
                                   ", whose figures `guardband systems " + colour.scanning + "` shows."};
    std::vector<std::string> carriers;
    for (const Transmission& t : table.transmissions)
        if (std::ranges::find(t.colours, colour.id) != t.colours.end()) carriers.push_back(t.id);
    add_list(lines, "Sent over the transmission systems", carriers);
    return lines;
}

std::vector<std::string> belongings_of(const Table&, const Transmission& transmission) {
    std::vector<std::string> lines{"On the scanning standard " + transmission.scanning + "."};
    add_list(lines, "Colour systems sent over it", transmission.colours);
    return lines;
}

std::string title_of(const Scanning& s) { return fmt::format("Scanning standard {} ({})", s.id, s.name); }
std::string title_of(const Colour& c) {
    return fmt::format("Colour system {}{}", c.id, c.name == c.id ? "" : " (" + c.name + ")");
}
std::string title_of(const Transmission& t) { return fmt::format("Transmission system {}", t.id); }

SectionKind section_of(const System& system) {
    constexpr SectionKind sections[] = {SectionKind::Scanning, SectionKind::Colour, SectionKind::Transmission};
    return sections[system.index()];
}

const table::Facts& facts_of(const System& system) {
    return std::visit([](const auto* s) -> const table::Facts& { return s->facts; }, system);
}

class SystemWriting {
public:
    SystemWriting(const Table& table, const System& system)
        : table_(table),
          system_(system),
          writer_(table, std::visit([](const auto* s) { return title_of(*s); }, system)) {}

    FigurePage whole() && {
        auto& lines = writer_.page().introduction;
        const auto& aliases =
            std::visit([](const auto* s) -> const std::vector<std::string>& { return s->aliases; }, system_);
        add_list(lines, "Also called", aliases);
        std::ranges::move(std::visit([&](const auto* s) { return belongings_of(table_, *s); }, system_),
                          std::back_inserter(lines));
        for (const FigureGroup& group : system_groups()) add_group(group);
        if (const auto* const* scanning = std::get_if<const Scanning*>(&system_)) add_rasters(**scanning);
        return std::move(writer_).finish();
    }

private:
    void add_group(const FigureGroup& group) {
        Block block{{{"", ""}}, {}};
        for (const KeyRule* rule : group.rules)
            if (rule->section == section_of(system_)) add_row(block, *rule, {facts_of(system_).find(rule->key)});
        if (!block.rows.empty()) writer_.page().groups.push_back({std::string(group.title), {std::move(block)}, ""});
    }

    void add_row(Block& block, const KeyRule& rule, const std::vector<const Fact*>& facts) {
        writer_.add_row(block, {std::string(rule.title), facts});
        for (const Fact* fact : facts)
            if (fact != nullptr && !fact->is_known()) writer_.unknowns().add(fact->unknown, std::string(rule.title));
    }

    void add_rasters(const Scanning& scanning) {
        std::vector<const table::Raster*> rasters;
        Block block;
        for (const table::Raster& raster : table_.rasters) {
            if (raster.scanning != scanning.id) continue;
            rasters.push_back(&raster);
            block.columns.push_back({"", raster.id});
        }
        if (rasters.empty()) return;
        for (const KeyRule& rule : table::key_rules()) {
            if (rule.section != SectionKind::Raster) continue;
            std::vector<const Fact*> facts;
            for (const table::Raster* raster : rasters) facts.push_back(raster->facts.find(rule.key));
            add_row(block, rule, facts);
        }
        const std::string title = rasters.size() == 1 ? "Digital raster " + rasters.front()->id : "Digital rasters";
        writer_.page().groups.push_back({title, {std::move(block)}, ""});
    }

    const Table& table_;
    const System& system_;
    FigurePageWriter writer_;
};

}  // namespace

std::vector<System> all_systems(const Table& table) {
    std::vector<System> systems;
    for (const auto& scanning : table.scannings) systems.emplace_back(&scanning);
    for (const auto& colour : table.colours) systems.emplace_back(&colour);
    for (const auto& transmission : table.transmissions) systems.emplace_back(&transmission);
    return systems;
}

const std::string& id_of(const System& system) {
    return std::visit([](const auto* s) -> const std::string& { return s->id; }, system);
}

std::string kind_of(const System& system) {
    constexpr std::string_view kinds[] = {"scanning", "colour", "transmission"};
    return std::string(kinds[system.index()]);
}

const Scanning& scanning_of(const Table& table, const System& system) {
    if (const auto* const* scanning = std::get_if<const Scanning*>(&system)) return **scanning;
    if (const auto* const* colour = std::get_if<const Colour*>(&system))
        return *table.find_scanning((*colour)->scanning);
    return *table.find_scanning(std::get<const Transmission*>(system)->scanning);
}

const Fact* fact_for_system(const Table& table, const System& system, const KeyRule& rule) {
    if (rule.section == section_of(system)) return facts_of(system).find(rule.key);
    return rule.section == SectionKind::Scanning ? scanning_of(table, system).facts.find(rule.key) : nullptr;
}

FigurePage system_page(const Table& table, const System& system) { return SystemWriting(table, system).whole(); }

}  // namespace guardband::report
