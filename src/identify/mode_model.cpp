#include "identify/mode_model.h"

#include <algorithm>
#include <cmath>
#include <set>

#include "calc/track_geometry.h"
#include "identify/beliefs.h"
#include "identify/cassettes.h"

namespace guardband::identify {
namespace {

using table::Fact;

constexpr std::size_t index_of(Group group) { return static_cast<std::size_t>(group); }

/// The fact as the file has it, unknown ones too; nullptr if it is not mentioned.
const Fact* fact_of(const table::TapeFormat& format, const table::Mode& mode, std::string_view key) {
    if (const Fact* own = mode.facts.find(key)) return own;
    if (const table::FormatSystem* system = format.find_system(mode.system))
        if (const Fact* shared = system->facts.find(key)) return shared;
    return format.drum.find(key);
}

/// The figures of one mode, one for each group, and its speed.
struct Figures {
    TableFigure speed;
    std::array<TableFigure, group_count> groups;
};

/// What slanted tracks have; absent where the heads stand still.
void add_tracks(Figures& figures, const table::Table& table, const table::TapeFormat& format, const table::Mode& mode) {
    const calc::TrackFacts facts = calc::track_facts(table, format, mode);
    TableFigure &rate = figures.groups[index_of(Group::Tracks)], &pitch = figures.groups[index_of(Group::Pitch)],
                &angle = figures.groups[index_of(Group::Angle)];
    if (facts.tracks_per_s) {
        rate.value = facts.tracks_per_s->value();
        rate.relative = 0;
        rate.is_exact = true;
        rate.standing = facts.track_rate_assumption.empty() ? table::Standing::Published : table::Standing::FromMemory;
    }
    pitch = figure_of(fact_of(format, mode, "track_pitch"), "µm");
    angle = figure_of(fact_of(format, mode, "track_angle_moving"), "deg");
    if (!pitch.value) {
        const quantity::Figure worked = calc::track_pitch(facts).figure("µm");
        if (worked.is_known()) pitch = figure_of(worked, table::Standing::Computed);
    }
    if (!angle.value && !facts.heads_stand_still) {
        const quantity::Figure worked = calc::track_geometry(table, format, mode).angle_moving_deg;
        if (worked.is_known()) angle = figure_of(worked, table::Standing::Computed);
    }
    if (facts.heads_stand_still) rate = pitch = angle = TableFigure{{}, {}, {}, false, true};
}

Figures figures_of(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode) {
    Figures figures;
    const auto at = [&](Group group) -> TableFigure& { return figures.groups[index_of(group)]; };
    figures.speed = figure_of(fact_of(format, mode, "tape_speed"), "mm/s");
    at(Group::Width) = figure_of(format.tape.find("width"), "mm");
    at(Group::Control) = figure_of(fact_of(format, mode, "control_track_rate"), "Hz");
    at(Group::Luma) = figure_of(fact_of(format, mode, "luma_bandwidth"), "MHz");
    at(Group::Sound) = figure_of(fact_of(format, mode, "sound_bandwidth"), "kHz");
    add_tracks(figures, table, format, mode);
    return figures;
}

/// One figure of each format in each standard, so that a format with many modes does not weigh more.
std::vector<double> values_in(const std::vector<ModeModel>& models, const std::vector<Figures>& figures,
                              const TableFigure& (*pick)(const Figures&, Group), Group group) {
    std::vector<double> values;
    std::set<std::pair<const table::TapeFormat*, std::pair<std::string, double>>> seen;
    for (std::size_t i = 0; i < models.size(); ++i) {
        const TableFigure& figure = pick(figures[i], group);
        if (figure.value && seen.insert({models[i].format, {models[i].mode->system, *figure.value}}).second)
            values.push_back(*figure.value);
    }
    return values;
}

Belief drum_belief(const table::Table& table, const Judgement& judged, double log_field_rate) {
    std::set<double> rates;
    for (const table::Scanning& scanning : table.scannings) rates.insert(std::log(scanning.field_rate().value()));
    Belief belief;
    belief.known = true;
    const double variance = judged.drum_rate_scatter * judged.drum_rate_scatter;
    for (const double rate : rates) {
        const bool own = std::abs(rate - log_field_rate) < 1e-9;
        const double share = own ? 1 - judged.other_standard_machine
                                 : judged.other_standard_machine / static_cast<double>(rates.size() - 1);
        belief.prior.push_back({std::log(share), rate - log_field_rate, variance});
    }
    return belief;
}

double grey_share(const Judgement& judged, const table::TapeFormat& format, const table::Mode& mode) {
    const Fact* process = fact_of(format, mode, "colour_process");
    if (process == nullptr || !process->is_known()) return judged.grey_of_others;
    const bool is_grey =
        process->printed.starts_with("none") || process->printed.find("monochrome") != std::string::npos;
    return is_grey ? judged.grey_of_grey_formats : judged.grey_of_colour_formats;
}

/// Everyday words for the colour systems that the table knows on a scanning standard: `PAL` for PAL-M.
std::set<std::string> colours_on(const table::Table& table, const std::string& system) {
    std::set<std::string> words;
    for (const table::Colour& colour : table.colours)
        for (const std::string_view word : colour_words)
            if (colour.scanning == system && colour.id.starts_with(word)) words.insert(std::string(word));
    return words;
}

/// How likely each word is in colour on a scanning standard: by what the regions that used it had.
std::array<double, colour_words.size()> colour_shares(const table::Table& table, double from_elsewhere,
                                                      const std::string& system, const table::Region* region) {
    std::array<double, colour_words.size()> shares{};
    const std::set<std::string> possible = colours_on(table, system);
    const auto add = [&](const table::Region& from, double weight) {
        for (std::size_t i = 0; i < shares.size(); ++i)
            if (possible.contains(std::string(colour_words[i])) &&
                std::ranges::find(from.colours, colour_words[i]) != from.colours.end())
                shares[i] += weight / static_cast<double>(from.colours.size());
    };
    for (const table::Region& from : table.regions)
        if (std::ranges::find(from.systems, system) != from.systems.end())
            add(from, region == nullptr || region->id == from.id ? 1 : from_elsewhere);
    return shares;
}

void set_colours(ModeModel& model, const table::Table& table, const Judgement& judged, const table::Region* region) {
    const auto shares = colour_shares(table, judged.from_elsewhere, model.mode->system, region);
    double sum = 0;
    for (const double share : shares) sum += share;
    const double grey = sum > 0 ? grey_share(judged, *model.format, *model.mode) : 1;
    for (std::size_t i = 0; i < shares.size(); ++i) model.colours[i] = sum > 0 ? (1 - grey) * shares[i] / sum : 0;
    model.colours.back() = grey;
}

void set_scanning(ModeModel& model, const table::Table& table, const Judgement& judged) {
    const table::Scanning* scanning = table.find_scanning(model.mode->system);
    model.log_field_rate = std::log(scanning->field_rate().value());
    model.log_line_rate = std::log(scanning->line_rate().value());
    model.groups[index_of(Group::Drum)] = drum_belief(table, judged, model.log_field_rate);
}

bool same(const Belief& a, const Belief& b) {
    return a.known == b.known && a.absent == b.absent &&
           std::ranges::equal(a.prior, b.prior, [](const Normal& x, const Normal& y) {
               return x.log_weight == y.log_weight && x.mean == y.mean && x.variance == y.variance;
           });
}

/// Gives the same number to beliefs that are the same, so that they are weighed once. Those in the drum are about what
/// each scanning standard makes of it.
void set_numbers(std::vector<ModeModel>& models, Group group) {
    std::vector<const ModeModel*> known;
    for (ModeModel& model : models) {
        Belief& belief = model.groups[index_of(group)];
        const auto twin = std::ranges::find_if(known, [&](const ModeModel* other) {
            return same(other->groups[index_of(group)], belief) &&
                   (group != Group::Drum || other->mode->system == model.mode->system);
        });
        belief.number = static_cast<std::size_t>(twin - known.begin());
        if (twin == known.end()) known.push_back(&model);
    }
}

using Sizes = std::map<std::string, std::array<double, 3>>;

Sizes sizes_of(const table::Table& table) {
    Sizes sizes;
    for (const table::TapeFormat& format : table.formats)
        for (const table::Shell& shell : format.shells) {
            const Fact *width = shell.facts.known("width"), *depth = shell.facts.known("depth"),
                       *height = shell.facts.known("height");
            if (width != nullptr && depth != nullptr && height != nullptr)
                sizes[shell.id] = {width->in("mm"), depth->in("mm"), height->in("mm")};
        }
    return sizes;
}

/// A shell of like size is taken for another more often than one of another size.
double confusion_weight(const Judgement& judged, const Sizes& sizes, const std::string& one, const std::string& other) {
    const auto a = sizes.find(one), b = sizes.find(other);
    if (a == sizes.end() || b == sizes.end()) return 1;
    for (std::size_t i = 0; i < a->second.size(); ++i)
        if (std::abs(std::log(a->second[i] / b->second[i])) > judged.like_shell_within) return 1;
    return judged.like_shell_mistaken;
}

std::vector<std::vector<double>> shell_confusion(const Judgement& judged, const Sizes& sizes,
                                                 const std::vector<std::string>& shells, double blunders) {
    std::vector<std::vector<double>> seen(shells.size(), std::vector<double>(shells.size()));
    for (std::size_t i = 0; i < shells.size(); ++i) {
        double sum = 0;
        for (std::size_t j = 0; j < shells.size(); ++j)
            if (i != j) sum += seen[i][j] = confusion_weight(judged, sizes, shells[i], shells[j]);
        for (std::size_t j = 0; j < shells.size(); ++j)
            seen[i][j] = i == j ? 1 - blunders : blunders * seen[i][j] / sum;
    }
    return seen;
}

const TableFigure& speed_in(const Figures& figures, Group) { return figures.speed; }
const TableFigure& group_in(const Figures& figures, Group group) { return figures.groups[index_of(group)]; }

void set_beliefs(std::vector<ModeModel>& models, const std::vector<Figures>& figures, const Judgement& judged) {
    const std::vector<double> speeds = values_in(models, figures, speed_in, Group::Speed);
    for (std::size_t i = 0; i < models.size(); ++i)
        models[i].speed = belief_in(figures[i].speed, judged, spread_of(speeds), wide_normal(speeds));
    for (const Group group :
         {Group::Width, Group::Control, Group::Tracks, Group::Pitch, Group::Angle, Group::Luma, Group::Sound}) {
        const std::vector<double> values = values_in(models, figures, group_in, group);
        const Mixture spread = spread_of(values);
        const Normal wide = wide_normal(values);
        const bool has_losses = group == Group::Luma || group == Group::Sound;
        for (std::size_t i = 0; i < models.size(); ++i) {
            const Belief belief = belief_in(group_in(figures[i], group), judged, spread, wide);
            models[i].groups[index_of(group)] = has_losses ? less_losses(belief) : belief;
        }
    }
}

}  // namespace

Models::Models(const table::Table& table, const table::Region* region)
    : table_(&table), judgement_(judgement_of(table)) {
    for (const KindInfo& info : all_kinds()) data_.push_back(data_of(table, info.kind));
    labels_ = all_labels(table);
    shells_ = all_shells(table);
    const CassetteSpread spread = cassette_spread(table);
    std::vector<Figures> figures;
    for (const table::TapeFormat& format : table.formats) {
        std::map<std::string, std::shared_ptr<const Cassettes>> cassettes;
        for (const table::Mode& mode : format.modes) {
            ModeModel model;
            model.format = &format, model.mode = &mode, model.address = address_of(format, mode);
            set_scanning(model, table, judgement_);
            set_colours(model, table, judgement_, region);
            auto& of_system = cassettes[mode.system];
            if (!of_system) of_system = cassettes_of(*this, format, mode.system, spread);
            model.cassettes = of_system;
            figures.push_back(figures_of(table, format, mode));
            models_.push_back(std::move(model));
        }
    }
    set_beliefs(models_, figures, judgement_);
    for (std::size_t i = 0; i < group_count; ++i) set_numbers(models_, static_cast<Group>(i));
    shell_seen_ = shell_confusion(judgement_, sizes_of(table), shells_, data(Kind::Shell).blunders);
}

std::size_t Models::shell_place(const std::string& shell) const {
    return static_cast<std::size_t>(std::ranges::lower_bound(shells_, shell) - shells_.begin());
}

}  // namespace guardband::identify
