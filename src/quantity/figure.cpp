#include "quantity/figure.h"

#include <algorithm>
#include <cmath>

#include "quantity/errors.h"

namespace guardband::quantity {

std::string_view to_string(Verdict verdict) {
    switch (verdict) {
        case Verdict::Within:
            return "within";
        case Verdict::Outside:
            return "outside";
        case Verdict::NoLimit:
            break;
    }
    return "no limit";
}

std::string_view to_string(Severity severity) {
    switch (severity) {
        case Severity::Fault:
            return "fault";
        case Severity::Warning:
            return "warning";
        case Severity::Note:
            break;
    }
    return "note";
}

Figure Figure::measured(double value, double standard_uncertainty, std::string_view unit) {
    if (!std::isfinite(value) || !std::isfinite(standard_uncertainty) || standard_uncertainty < 0)
        throw DomainError("a figure must be finite and its uncertainty not negative");
    Figure figure;
    figure.value_ = value;
    figure.uncertainty_ = standard_uncertainty;
    figure.unit_ = unit;
    return figure;
}

Figure Figure::counted(std::int64_t value, std::string_view unit) {
    Figure figure;
    figure.value_ = value;
    figure.unit_ = unit;
    return figure;
}

Figure Figure::text(std::string value) {
    Figure figure;
    figure.value_ = std::move(value);
    return figure;
}

Figure Figure::components(std::vector<Component> strongest_first) {
    Figure figure;
    figure.value_ = std::move(strongest_first);
    return figure;
}

Figure Figure::services(std::vector<LineService> services) {
    Figure figure;
    figure.value_ = std::move(services);
    return figure;
}

Figure Figure::unknown(std::string reason) {
    Figure figure;
    figure.reason_ = std::move(reason);
    return figure;
}

std::optional<double> Figure::number() const {
    if (const auto* real = std::get_if<double>(&value_)) return *real;
    if (const auto* count = std::get_if<std::int64_t>(&value_)) return static_cast<double>(*count);
    return std::nullopt;
}

Figure& Figure::with_alternatives(std::vector<double> alternatives) {
    alternatives_ = std::move(alternatives);
    return *this;
}

Figure& Figure::with_note(std::string note) {
    note_ = std::move(note);
    return *this;
}

void Figure::judge(Limit limit, Verdict verdict) {
    limit_ = std::move(limit);
    verdict_ = verdict;
}

void Figures::add(std::string id, Figure figure) {
    if (find(id) != nullptr) throw DomainError("figure " + id + " was added twice");
    entries_.emplace_back(std::move(id), std::move(figure));
}

const Figure* Figures::find(std::string_view id) const {
    const auto found = std::ranges::find(entries_, id, &std::pair<std::string, Figure>::first);
    return found == entries_.end() ? nullptr : &found->second;
}

Figure* Figures::find(std::string_view id) {
    const auto found = std::ranges::find(entries_, id, &std::pair<std::string, Figure>::first);
    return found == entries_.end() ? nullptr : &found->second;
}

}  // namespace guardband::quantity
