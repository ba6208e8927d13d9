#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>

#include "calc/propagation.h"
#include "table/table.h"

namespace guardband::calc {

/// The four sizes of a pack of tape, of which any three give the fourth.
enum class PackSize { Length, Outer, Hub, Thickness };
inline constexpr std::array all_pack_sizes{PackSize::Length, PackSize::Outer, PackSize::Hub, PackSize::Thickness};

/// `length of tape`, `diameter of the pack`, `diameter of the bare hub`, `thickness of the tape`.
std::string_view name_of(PackSize size);
/// m, mm, mm, µm.
std::string_view unit_of(PackSize size);
/// `--length`, `--outer`, `--hub`, `--thickness`.
std::string_view option_of(PackSize size);

/// One thing for each of the four sizes.
template <typename T>
class PerSize {
public:
    T& operator[](PackSize size) { return values_[static_cast<std::size_t>(size)]; }
    const T& operator[](PackSize size) const { return values_[static_cast<std::size_t>(size)]; }

private:
    std::array<T, all_pack_sizes.size()> values_{};
};

/// A tape on a reel as a user names it: by its label, by its sizes, or by both, of which the user's sizes win.
struct TapeQuery {
    const table::TapeFormat* format = nullptr;  ///< may be absent: then the sizes are the user's alone
    std::optional<std::string> grade;           ///< id or alias; needs `format`
    const table::Mode* mode = nullptr;          ///< of `format`; nullptr: every mode
    PerSize<std::optional<Input>> given;        ///< by the user, each in the size's own unit
};

/// What is asked of a pack. What the user gives comes before what the table says.
struct PackQuery : TapeQuery {
    std::optional<Input> at_s;  ///< time since the start of the tape; needs `mode`
    int pulses_per_turn = 1;    ///< that a reel gives; 1: its pulse period is that of a turn
};

/// A size and where it comes from.
struct PackFigure {
    Input input;
    const table::Fact* fact = nullptr;  ///< nullptr: the user's, or worked out
};

/// A query with all that it needs.
struct ResolvedPack {
    table::GradeOfFormat grade{nullptr, nullptr};  ///< the grade, if one is named
    PackSize found{};                              ///< the size that is worked out
    PerSize<PackFigure> figures;                   ///< of the other three
    /// What the table says of the size that is worked out, where it says something: to compare.
    const table::Fact* expected = nullptr;
};

/// The grade of this name among those that run in a format. @throws InputError with the nearest name if there is none
table::GradeOfFormat grade_named(const table::Table& table, const table::TapeFormat& format, const std::string& name);

/// What the table says of a pack: length and hub of the grade, its thickness or that of the format's tape; nullptr
/// where it says nothing. The outer diameter is never in the table.
/// @param grade  its members may be nullptr
const table::Fact* pack_fact(PackSize size, const table::TapeFormat* format, const table::GradeOfFormat& grade);

/// Decides which size is to be found and takes the others from the user or, failing that, from the table. Three given:
/// the fourth. Else, without an outer diameter, that; with one, the length; with that and a length, the thickness (or
/// the hub, where the thickness is given too, or is known and the hub is not).
/// @throws InputError if all four are given, a given one can't be, or one is missing: in one line what to give
ResolvedPack resolve(const table::Table& table, const PackQuery& query);

/// The four sizes, with the one to be found worked out by the formulas of `calc/pack.h`.
/// @throws InputError if the three can't be those of a pack
PerSize<double> solved(const ResolvedPack& pack);

/// The same for sizes close to those of a pack that `solved` has found good, as an estimate of uncertainty takes them.
/// Throws nothing: where there is no such pack, it goes on by the formula, or ends at a bare hub of 0.
PerSize<double> solved_nearby(PackSize found, PerSize<double> sizes);

}  // namespace guardband::calc
