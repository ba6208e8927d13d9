#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

namespace guardband::quantity {

/// What a figure is judged against. Either end may be open; a text figure is judged against `text`.
struct Limit {
    std::optional<double> low, high;  ///< in the figure's own unit
    std::optional<std::string> text;
    std::string source;  ///< where the limit comes from, for people
};

enum class Verdict { NoLimit, Within, Outside };

/// `within`, `outside`, `no limit`.
std::string_view to_string(Verdict verdict);

/// A steady component of a motion, such as the flutter of one rotating part.
struct Component {
    double hz = 0;
    double depth_percent = 0;  ///< peak value, ±
    std::string part;          ///< what turns at that rate, or at the rate of which it is a harmonic; empty: not known
    int harmonic = 1;          ///< of the part's rate
    std::optional<double> amplitude_ns{};  ///< peak value of the displacement in time, ±, where that was measured

    friend bool operator==(const Component&, const Component&) = default;
};

/// A service of data beside the picture, on lines of their own: teletext, captions, time code.
struct LineService {
    std::string name;
    std::vector<int> lines;       ///< numbers within the frame, from 1, in order; of a clip, stored rows from 0
    bool stored_rows = false;     ///< it was found in the rows of a clip
    std::int64_t fields = 0;      ///< those that it was seen in …
    std::int64_t of_fields = 0;   ///< … of so many
    std::optional<double> right;  ///< share of what bears a check that passes it; nothing where nothing does
    std::string checked;          ///< what that is a share of: `bytes`, `lines`
    std::string says;             ///< for people, printable: page, text, aspect ratio, time code

    friend bool operator==(const LineService&, const LineService&) = default;
};

/// One measured or computed result: a number, a count, a text or a list with its unit, standard
/// uncertainty (k = 1, JCGM 100) and judgement; or the reason why it could not be had. A figure never shows a default.
class Figure {
public:
    using Value = std::variant<std::monostate, double, std::int64_t, std::string, std::vector<Component>,
                               std::vector<LineService>>;

    static Figure measured(double value, double standard_uncertainty, std::string_view unit);
    static Figure counted(std::int64_t value, std::string_view unit = "");
    static Figure text(std::string value);
    /// May be empty: looked for, and none found. @param strongest_first  in that order
    static Figure components(std::vector<Component> strongest_first);
    /// May be empty: looked for, and none found.
    static Figure services(std::vector<LineService> services);
    static Figure unknown(std::string reason);

    const Value& value() const { return value_; }
    bool is_known() const { return !std::holds_alternative<std::monostate>(value_); }
    /// The value as a number; nothing for a text or an unknown figure.
    std::optional<double> number() const;
    const std::string& unit() const { return unit_; }
    std::optional<double> uncertainty() const { return uncertainty_; }
    const std::string& reason() const { return reason_; }

    const std::vector<double>& alternatives() const { return alternatives_; }
    const std::string& note() const { return note_; }
    const std::optional<Limit>& limit() const { return limit_; }
    Verdict verdict() const { return verdict_; }

    /// Other values that explain the same measurement and could not be ruled out.
    Figure& with_alternatives(std::vector<double> alternatives);
    /// A remark for people: what it rests on, what it can't tell.
    Figure& with_note(std::string note);
    /// In place of those that a figure of components has.
    void replace_components(std::vector<Component> strongest_first) { value_ = std::move(strongest_first); }
    void judge(Limit limit, Verdict verdict);

private:
    Value value_;
    std::string unit_, reason_, note_;
    std::optional<double> uncertainty_;
    std::vector<double> alternatives_;
    std::optional<Limit> limit_;
    Verdict verdict_ = Verdict::NoLimit;
};

/// Figures by id, in the order in which they were added.
class Figures {
public:
    /// @throws DomainError if the id is there already: two measurements must not claim one figure
    void add(std::string id, Figure figure);
    const Figure* find(std::string_view id) const;
    Figure* find(std::string_view id);
    const std::vector<std::pair<std::string, Figure>>& all() const { return entries_; }
    std::vector<std::pair<std::string, Figure>>& all() { return entries_; }

private:
    std::vector<std::pair<std::string, Figure>> entries_;
};

enum class Severity { Note, Warning, Fault };

/// `note`, `warning`, `fault`.
std::string_view to_string(Severity severity);

/// Something that happened at one moment of a recording.
struct Event {
    std::string kind;  ///< a stable word: `repeated`, `missing`, `stamp jitter`
    Severity severity = Severity::Note;
    double time_s = 0;                  ///< from the start of what was read
    std::optional<std::int64_t> frame;  ///< counts from 0 in what was read
    std::optional<std::int64_t> field;  ///< counts from 0 in the order of time
    std::optional<std::int64_t> count;  ///< how many frames or fields it concerns; the unit is the kind's
    std::optional<std::int64_t> line;   ///< from 0 at the top of the field's stored lines
    std::optional<double> start_us;     ///< on that line, from the left edge of the stored picture
    std::optional<double> length_us;
    std::string what;  ///< one line for people
};

}  // namespace guardband::quantity
