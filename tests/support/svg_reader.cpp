#include "support/svg_reader.h"

#include <array>
#include <cctype>
#include <cstddef>
#include <sstream>
#include <stdexcept>

namespace guardband::support {
namespace {

constexpr std::array<std::pair<std::string_view, char>, 5> entities{
    {{"&amp;", '&'}, {"&lt;", '<'}, {"&gt;", '>'}, {"&quot;", '"'}, {"&apos;", '\''}}};

class Reader {
public:
    explicit Reader(std::string_view text) : text_(text) {}

    SvgElement whole() {
        expect("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
        SvgElement root = element();
        skip_blanks();
        if (at_ != text_.size()) fail("something follows the drawing");
        return root;
    }

private:
    [[noreturn]] void fail(const std::string& what) const {
        throw std::runtime_error(what + " at byte " + std::to_string(at_));
    }

    bool sees(std::string_view part) const { return text_.substr(at_, part.size()) == part; }

    void expect(std::string_view part) {
        if (!sees(part)) fail("expected " + std::string(part));
        at_ += part.size();
    }

    void skip_blanks() {
        while (at_ < text_.size() && std::isspace(static_cast<unsigned char>(text_[at_])) != 0) ++at_;
    }

    std::string name() {
        const std::size_t from = at_;
        while (at_ < text_.size() && (std::isalnum(static_cast<unsigned char>(text_[at_])) != 0 || text_[at_] == '-'))
            ++at_;
        if (at_ == from) fail("expected a name");
        return std::string(text_.substr(from, at_ - from));
    }

    /// Characters up to `end`, entities resolved.
    std::string characters(char end) {
        std::string result;
        while (at_ < text_.size() && text_[at_] != end) {
            if (text_[at_] == '<' || static_cast<unsigned char>(text_[at_]) < '\n')
                fail("a character that XML does not take");
            result += text_[at_] == '&' ? entity() : text_[at_++];
        }
        if (at_ == text_.size()) fail("the drawing ends too early");
        return result;
    }

    char entity() {
        for (const auto& [written, meant] : entities)
            if (sees(written)) {
                at_ += written.size();
                return meant;
            }
        fail("an entity that XML does not know");
    }

    void attributes(SvgElement& element) {
        for (skip_blanks(); !sees(">") && !sees("/>"); skip_blanks()) {
            const std::string key = name();
            expect("=\"");
            if (!element.attributes.emplace(key, characters('"')).second) fail("an attribute stands twice");
            expect("\"");
        }
    }

    SvgElement element() {
        SvgElement element;
        expect("<");
        element.name = name();
        attributes(element);
        if (sees("/>")) {
            at_ += 2;
            return element;
        }
        expect(">");
        while (true) {
            element.text += characters('<');
            if (sees("</")) break;
            element.children.push_back(this->element());
        }
        expect("</" + element.name + ">");
        return element;
    }

    std::string_view text_;
    std::size_t at_ = 0;
};

void collect(const SvgElement& element, std::string_view name, std::vector<const SvgElement*>& found) {
    if (element.name == name) found.push_back(&element);
    for (const SvgElement& child : element.children) collect(child, name, found);
}

}  // namespace

std::vector<std::pair<double, double>> SvgElement::points() const {
    std::istringstream stream(attributes.at("points"));
    std::vector<std::pair<double, double>> result;
    char comma = 0;
    for (double x = 0, y = 0; stream >> x >> comma >> y;) result.emplace_back(x, y);
    return result;
}

std::vector<const SvgElement*> SvgElement::all(std::string_view element_name) const {
    std::vector<const SvgElement*> found;
    collect(*this, element_name, found);
    return found;
}

bool SvgElement::has_group(const std::string& id) const {
    for (const SvgElement* group : all("g"))
        if (group->attributes.contains("id") && group->attributes.at("id") == id) return true;
    return false;
}

const SvgElement& SvgElement::group(const std::string& id) const {
    for (const SvgElement* group : all("g"))
        if (group->attributes.contains("id") && group->attributes.at("id") == id) return *group;
    throw std::out_of_range("no group " + id);
}

SvgElement read_svg(std::string_view svg) { return Reader(svg).whole(); }

}  // namespace guardband::support
