#pragma once

#include <map>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace guardband::support {

/// An element of an SVG drawing as a test reads it back.
struct SvgElement {
    std::string name, text;  ///< text: of this element itself
    std::map<std::string, std::string> attributes;
    std::vector<SvgElement> children;

    double number(const std::string& attribute) const { return std::stod(attributes.at(attribute)); }
    /// The `points` of a polyline or polygon.
    std::vector<std::pair<double, double>> points() const;
    /// The group of this id, at any depth. @throws std::out_of_range if there is none
    const SvgElement& group(const std::string& id) const;
    bool has_group(const std::string& id) const;
    /// All elements of a name, at any depth.
    std::vector<const SvgElement*> all(std::string_view element_name) const;
};

/// Reads a drawing: well-formed XML of elements, attributes in double quotes, texts and the five named entities;
/// nothing else.
/// @throws std::runtime_error where it is not well-formed
SvgElement read_svg(std::string_view svg);

}  // namespace guardband::support
