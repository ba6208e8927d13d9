#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "quantity/rational.h"
#include "table/fact.h"

namespace guardband::table {

/// Where figures come from.
struct Source {
    std::string id, title, year;
    std::string kind;  ///< standard, specification, article, book, web page, practice, memory, computed
    std::string seen;  ///< read, extract read, contents only, not seen
    std::string link, note;
};

/// A scanning standard: `525/60`, `625/50`.
struct Scanning {
    std::string id, name;
    std::vector<std::string> aliases;
    Facts facts;

    quantity::Rational lines() const;       ///< per frame
    quantity::Rational field_rate() const;  ///< Hz
    quantity::Rational frame_rate() const;  ///< Hz
    quantity::Rational line_rate() const;   ///< Hz
};

/// A digital raster that captures come in: `720x576`.
struct Raster {
    std::string id, scanning;
    Facts facts;

    int width() const;       ///< samples per active line
    int height() const;      ///< digitised lines per frame
    int black_code() const;  ///< 8-bit code of black
    int white_code() const;  ///< 8-bit code of white
};

/// A colour system on a scanning standard: NTSC, PAL, SECAM.
struct Colour {
    std::string id, name, scanning;
    std::vector<std::string> aliases;
    Facts facts;
};

/// A transmission system: B, G, I, M …
struct Transmission {
    std::string id, name, scanning;
    std::vector<std::string> aliases, colours;
    Facts facts;
};

/// A rate at which screens or lamps flicker.
struct Screen {
    std::string id, name;
    Facts facts;

    double rate_hz() const;
};

/// A cassette shell or reel.
struct Shell {
    std::string id, name;
    Facts facts;
};

/// What a format does alike in all its modes on one scanning standard.
struct FormatSystem {
    std::string id;  ///< of the scanning standard
    Facts facts;
};

/// A mode of recording: one speed, or one band, of a format on one scanning standard.
struct Mode {
    std::string system, id;
    std::vector<std::string> aliases;
    Facts facts;
};

/// A nominal playing time that a source prints for a grade.
struct PlayingTime {
    std::string system, mode;
    Fact time;
};

/// A length of tape that is sold under a label: `T-120`.
struct Grade {
    std::string id;
    std::vector<std::string> aliases;
    std::string shell;         ///< id of the format's shell
    std::string label_system;  ///< scanning standard whose minutes the label counts; empty if it counts none
    Facts facts;
    std::vector<PlayingTime> playing_times;
};

/// A tape format.
struct TapeFormat {
    std::string id, name, family, based_on;
    std::vector<std::string> aliases;
    std::vector<std::string> plays;      ///< ids of formats that its machines also play
    std::vector<std::string> grades_of;  ///< ids of formats whose grades run in it too
    Facts facts, tape, drum;
    std::vector<Shell> shells;
    std::vector<FormatSystem> systems;
    std::vector<Mode> modes;
    std::vector<Grade> grades;
    std::string file;  ///< for messages

    const FormatSystem* find_system(std::string_view id) const;
    const Mode* find_mode(std::string_view system, std::string_view id_or_alias) const;
    const Grade* find_grade(std::string_view id_or_alias) const;
    /// A fact as it holds in one mode: the mode's own, else its system's, else the drum's; nullptr if none is known.
    const Fact* fact_in(const Mode& mode, std::string_view key) const;
};

/// `vhs:625/50:LP`.
std::string address_of(const TapeFormat& format, const Mode& mode);

/// A grade together with the format whose file lists it.
struct GradeOfFormat {
    const TapeFormat* owner;
    const Grade* grade;
};

/// What one figure is judged against: a row of `limits.toml`.
struct LimitRule {
    std::string figure;
    std::string scanning, format;  ///< where it holds; empty: everywhere
    std::string condition;         ///< a word that the figure's note must carry for the rule to hold; empty: always
    std::string unless;            ///< a word that it must not carry; empty: none
    std::string setting;           ///< what the signal is for: `studio`, `transmission`, `recorder`; empty: anything
    std::optional<Fact> low, high;
    std::optional<std::string> text;
    std::string equals_figure;  ///< id of the figure it must agree with; empty if none
    std::string source, where, note;
    Standing standing = Standing::CommonPractice;
};

/// What a limit may be for.
const std::vector<std::string>& limit_settings();

/// What can hurt someone at the bench, or a tape: shown beside the work that it goes with.
struct Caution {
    std::string id;     ///< `mains`, `mould`
    std::string title;  ///< `Mains inside machines`
    std::string text;   ///< whole sentences
    std::string source, where;
    Standing standing = Standing::CommonPractice;
};

/// One kind of evidence of what a tape is, and how it is come by.
struct EvidenceKind {
    std::string id;              ///< `tape_width`
    std::string title;           ///< `width of the tape`
    std::string measures;        ///< what it is, in whole sentences
    std::string how;             ///< how to measure it safely, in whole sentences
    std::string needs;           ///< means that it takes: `ruler`
    bool needs_machine = false;  ///< the tape must be played, else it can be measured on the tape by itself
    Facts facts;                 ///< effort, scatter, blunders, lowest, highest
    std::string source, where;
    Standing standing = Standing::CommonPractice;
};

/// A part of the world and what was broadcast and sold there in the years of tape.
struct Region {
    std::string id, name;
    std::vector<std::string> systems;  ///< ids of scanning standards
    std::vector<std::string> colours;  ///< everyday words: NTSC, PAL, SECAM
    std::string source, where;
    Standing standing = Standing::CommonPractice;
};

/// How far a figure of the table is believed, by its standing.
struct Trust {
    std::string id;  ///< a standing: `published`
    Facts facts;     ///< off_by, wrong
};

/// How a codec makes its frames.
enum class Coding { Uncompressed, ConstantRate, Lossless, Lossy };

/// `uncompressed`, `constant rate`, `lossless`, `lossy`: at a rate that was chosen for each file.
std::string_view to_string(Coding coding);

/// What a constant-rate codec does on one scanning standard.
struct CodecSystem {
    std::string id;  ///< of the scanning standard
    Facts facts;
};

/// What a lossless codec makes of one kind of picture: as it was measured.
struct CodecPicture {
    std::string id;  ///< `quiet`, `worn`
    Facts facts;
};

/// A way to store captured pictures.
struct Codec {
    std::string id, name;
    std::vector<std::string> aliases;
    Coding coding = Coding::Uncompressed;
    Facts facts;
    std::vector<CodecSystem> systems;    ///< of a constant-rate codec
    std::vector<CodecPicture> pictures;  ///< of a lossless codec, the easiest first
};

/// A file format that holds pictures and sound.
struct Container {
    std::string id, name;
    std::vector<std::string> aliases;
    Facts facts;
};

/// Which edition of the table it is. A figure that changes changes the version: the last number when a figure is
/// corrected or added, the middle one when formats or keys are added, the first when ids or keys change their meaning
/// or go.
struct Edition {
    std::string version;                 ///< semantic version of the table, not of the program: `1.2.0`
    std::string changed;                 ///< date of the last change, `2026-11-25`
    std::vector<std::string> additions;  ///< folders of a user's own files that were read on top
};

/// The whole table. Look-ups take ids and aliases in any letter case.
class Table {
public:
    // Compiled once, in table.cpp: a third of the code of a file that copies a table.
    Table();
    Table(const Table&);
    Table(Table&&) noexcept;
    Table& operator=(const Table&);
    Table& operator=(Table&&) noexcept;
    ~Table();

    Edition edition;
    std::vector<Source> sources;
    std::vector<Scanning> scannings;
    std::vector<Raster> rasters;
    std::vector<Colour> colours;
    std::vector<Transmission> transmissions;
    std::vector<Screen> screens;
    std::vector<TapeFormat> formats;
    std::vector<LimitRule> limits;
    std::vector<Caution> cautions;
    std::vector<Codec> codecs;
    std::vector<Container> containers;
    std::vector<EvidenceKind> evidence;
    std::vector<Region> regions;
    Facts tapes_at_large;  ///< what is judged of all tapes together: how many lie in another standard's cassette …
    std::vector<Trust> trusts;

    const Source* find_source(std::string_view id) const;
    const Scanning* find_scanning(std::string_view name) const;
    const Colour* find_colour(std::string_view name) const;
    const Transmission* find_transmission(std::string_view name) const;
    const TapeFormat* find_format(std::string_view name) const;
    /// The raster of exactly this size, or nullptr.
    const Raster* find_raster(int width, int height) const;

    /// As the `find_` functions, for names that a user gave. @throws InputError with the nearest known name
    /// @param input  how the error names the place, e.g. `--system`
    const Scanning& scanning(std::string_view name, const std::string& input) const;
    const TapeFormat& format(std::string_view name, const std::string& input) const;
    const Codec& codec(std::string_view name, const std::string& input) const;
    /// The grades that run in a format: its own and those of the formats it shares cassettes with.
    std::vector<GradeOfFormat> grades_in(const TapeFormat& format) const;
    /// True if a format is another one or is based on it, directly or by others in between: their modes of one name run
    /// alike.
    bool is_or_is_based_on(const TapeFormat& format, const TapeFormat& base) const;

    /// The mode at `FORMAT:SYSTEM:MODE`. @throws InputError with the nearest known address
    std::pair<const TapeFormat*, const Mode*> at(std::string_view address, const std::string& input) const;
};

/// The built-in table, and on top of it the files of a user's folders: a format or system of the same id replaces the
/// built-in one.
/// @throws InputError naming file, line and key of the first fault
Table load_table(const std::vector<std::string>& extra_folders = {});

}  // namespace guardband::table
