#include "calc/pack_query.h"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

#include "calc/number_text.h"
#include "calc/pack.h"
#include "quantity/errors.h"
#include "table/suggestion.h"

namespace guardband::calc {
namespace {

using quantity::InputError;
using table::Fact;
using enum PackSize;

constexpr double smallest_hub_mm = 1e-3;  // below any hub; above the rounding of a pack's diameter

/// How to come by a size that nobody has given.
std::string_view remedy_for(PackSize size) {
    switch (size) {
        case Length:
            return "--length (m)";
        case Outer:
            return "--outer (mm, measured across the pack)";
        case Hub:
            return "--hub (mm, measured across the bare hub)";
        case Thickness:
            return "--thickness (µm)";
    }
    return "";
}

class Resolution {
public:
    Resolution(const table::Table& table, const PackQuery& query) : query_(query) {
        if (query.grade && query.format != nullptr) pack_.grade = grade_named(table, *query.format, *query.grade);
    }

    ResolvedPack whole() {
        for (const PackSize size : all_pack_sizes) expect_possible(size);
        pack_.found = size_to_find();
        std::vector<PackSize> missing;
        for (const PackSize size : all_pack_sizes) {
            if (size == pack_.found) continue;
            if (!is_known(size)) missing.push_back(size);
            pack_.figures[size] = figure_of(size);
        }
        expect_nothing(missing);
        pack_.expected = fact(pack_.found);
        return pack_;
    }

private:
    const Fact* fact(PackSize size) const { return pack_fact(size, query_.format, pack_.grade); }
    bool is_given(PackSize size) const { return query_.given[size].has_value(); }
    bool is_known(PackSize size) const { return is_given(size) || fact(size) != nullptr; }

    PackFigure figure_of(PackSize size) const {
        if (query_.given[size]) return {*query_.given[size], nullptr};
        const Fact* known = fact(size);
        return known == nullptr ? PackFigure{} : PackFigure{input_of(*known, unit_of(size)), known};
    }

    void expect_possible(PackSize size) const {
        if (!query_.given[size]) return;
        const Input& input = *query_.given[size];
        const std::string option(option_of(size));
        if (!(input.value > 0))
            throw InputError(option, fmt::format("{} must be above 0", name_of(size)),
                             fmt::format("give it in {}", unit_of(size)));
        if (input.half_width >= input.value)
            throw InputError(option, "is uncertain by as much as it is", "measure again, or give more digits");
    }

    PackSize size_to_find() const {
        const auto given = std::ranges::count_if(all_pack_sizes, [this](PackSize size) { return is_given(size); });
        if (given == 4)
            throw InputError("pack", "--length, --outer, --hub and --thickness are all given",
                             "leave out the one that is to be found");
        if (given == 3) return *std::ranges::find_if(all_pack_sizes, [this](PackSize size) { return !is_given(size); });
        if (!is_given(Outer)) return Outer;
        if (!is_given(Length)) return Length;
        return !is_known(Hub) && is_known(Thickness) ? Hub : Thickness;
    }

    void expect_nothing(const std::vector<PackSize>& missing) const {
        if (missing.empty()) return;
        std::string names, remedies;
        for (const PackSize size : missing) {
            names += (names.empty() ? "" : " and ") + std::string(name_of(size));
            remedies += (remedies.empty() ? "" : " and ") + std::string(remedy_for(size));
        }
        const std::string fault = "the " + names + (missing.size() == 1 ? " is" : " are") + " not known";
        if (pack_.grade.grade != nullptr)
            throw InputError(
                "pack",
                fault + fmt::format(": the table does not say, of {} {}", query_.format->id, pack_.grade.grade->id),
                "give " + remedies);
        throw InputError("pack", fault,
                         fmt::format("give {}, or name a cassette or reel ({}--grade)", remedies,
                                     query_.format == nullptr ? "--format and " : ""));
    }

    const PackQuery& query_;
    ResolvedPack pack_;
};

/// The tape fills the whole disc of the pack.
bool leaves_no_hub(const PerSize<double>& s) {
    return pack_outer_mm(s[Length], smallest_hub_mm, s[Thickness]) >= s[Outer];
}

std::string text_of(PackSize size, const PerSize<double>& sizes) {
    return significant(sizes[size], 5) + " " + std::string(unit_of(size));
}

/// Where a size came from, as the user would look for it.
std::string place_of(PackSize size, const ResolvedPack& pack) {
    return pack.figures[size].fact == nullptr ? std::string(option_of(size)) : "the table";
}

}  // namespace

std::string_view name_of(PackSize size) {
    switch (size) {
        case Length:
            return "length of tape";
        case Outer:
            return "diameter of the pack";
        case Hub:
            return "diameter of the bare hub";
        case Thickness:
            return "thickness of the tape";
    }
    return "";
}

std::string_view unit_of(PackSize size) {
    constexpr std::string_view units[] = {"m", "mm", "mm", "µm"};
    return units[static_cast<std::size_t>(size)];
}

std::string_view option_of(PackSize size) {
    constexpr std::string_view options[] = {"--length", "--outer", "--hub", "--thickness"};
    return options[static_cast<std::size_t>(size)];
}

table::GradeOfFormat grade_named(const table::Table& table, const table::TapeFormat& format, const std::string& name) {
    std::vector<std::string> names;
    for (const table::GradeOfFormat& grade : table.grades_in(format)) {
        if (table::same_name(grade.grade->id, name) ||
            std::ranges::any_of(grade.grade->aliases, [&](const auto& alias) { return table::same_name(alias, name); }))
            return grade;
        names.push_back(grade.grade->id);
    }
    if (names.empty())
        throw InputError("--grade " + name, "the table lists no cassettes or reels of " + format.name,
                         "give the sizes themselves: --length, --outer, --hub, --thickness");
    throw InputError("--grade " + name, "no such cassette or reel in " + format.name,
                     table::did_you_mean(name, names, "`guardband formats " + format.id + "` lists them"));
}

const Fact* pack_fact(PackSize size, const table::TapeFormat* format, const table::GradeOfFormat& grade) {
    const auto of_grade = [&](std::string_view key) {
        return grade.grade == nullptr ? nullptr : grade.grade->facts.known(key);
    };
    const table::TapeFormat* tape_of = grade.owner != nullptr ? grade.owner : format;
    switch (size) {
        case Length:
            return of_grade("length");
        case Outer:
            return nullptr;
        case Hub:
            return of_grade("hub_diameter");
        case Thickness:
            if (const Fact* thickness = of_grade("thickness")) return thickness;
            return tape_of == nullptr ? nullptr : tape_of->tape.known("thickness");
    }
    return nullptr;
}

ResolvedPack resolve(const table::Table& table, const PackQuery& query) { return Resolution(table, query).whole(); }

PerSize<double> solved_nearby(PackSize found, PerSize<double> s) {
    const double inside_mm = std::min(s[Hub], s[Outer]);
    switch (found) {
        case Length:
            s[Length] = pack_length_m(s[Outer], inside_mm, s[Thickness]);
            break;
        case Outer:
            s[Outer] = pack_outer_mm(s[Length], s[Hub], s[Thickness]);
            break;
        case Hub:
            s[Hub] = leaves_no_hub(s) ? 0 : pack_hub_mm(s[Outer], s[Length], s[Thickness]);
            break;
        case Thickness:
            s[Thickness] = pack_thickness_um(s[Outer], inside_mm, s[Length]);
            break;
    }
    return s;
}

PerSize<double> solved(const ResolvedPack& pack) {
    PerSize<double> sizes;
    for (const PackSize size : all_pack_sizes) sizes[size] = pack.figures[size].input.value;
    if (pack.found == Hub) {
        if (leaves_no_hub(sizes))
            throw InputError("pack",
                             fmt::format("{} of {} tape ({}, {}) leave no room for a hub in a pack of {} (--outer)",
                                         text_of(Length, sizes), text_of(Thickness, sizes), place_of(Length, pack),
                                         place_of(Thickness, pack), text_of(Outer, sizes)),
                             "measure the pack again, or check length and thickness");
    } else if (pack.found != Outer && sizes[Outer] <= sizes[Hub]) {
        throw InputError("--outer " + text_of(Outer, sizes),
                         fmt::format("not larger than the hub of {} ({})", text_of(Hub, sizes), place_of(Hub, pack)),
                         "both are diameters; the pack's goes over all the tape, the hub's over none");
    }
    return solved_nearby(pack.found, sizes);
}

}  // namespace guardband::calc
