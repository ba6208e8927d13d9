#include "published/check.h"

#include <filesystem>
#include <fstream>
#include <sstream>

#include "table/fields.h"

namespace guardband {
namespace {

namespace fs = std::filesystem;

Check::Given read_given(const table::Document& document, const table::Node& node) {
    table::Fields fields(document, node, "given");
    Check::Given g;
    g.address = fields.optional_text("address"), g.grade = fields.optional_text("grade");
    g.format = fields.optional_text("format"), g.shell = fields.optional_text("shell");
    g.id = fields.optional_text("id"), g.key = fields.optional_text("key");
    g.times = fields.optional_text("times"), g.plus = fields.optional_text("plus");
    g.length = fields.optional_text("length"), g.thickness = fields.optional_text("thickness"),
    g.hub = fields.optional_text("hub");
    g.value = fields.optional_text("value"), g.from = fields.optional_text("from"), g.to = fields.optional_text("to");
    g.system = fields.optional_text("system"), g.setup = fields.optional_text("setup"),
    g.signal = fields.optional_text("signal");
    g.rate = fields.optional_text("rate"), g.fps = fields.optional_text("fps");
    g.codec = fields.optional_text("codec"), g.raster = fields.optional_text("raster");
    g.sound_bits = fields.optional_text("sound_bits");
    g.wavelength = fields.optional_text("wavelength"), g.spacing = fields.optional_text("spacing"),
    g.gap = fields.optional_text("gap"), g.width = fields.optional_text("width"),
    g.angle = fields.optional_text("angle");
    g.screen = fields.optional_text("screen"), g.camera = fields.optional_text("camera"),
    g.exposure = fields.optional_text("exposure"), g.readout = fields.optional_text("readout");
    fields.expect_no_more();
    return g;
}

Check read_check(const table::Document& document, const table::Node& node) {
    table::Fields fields(document, node, "[[check]]");
    Check c;
    c.label = fs::path(document.file).stem().string() + "_line_" + std::to_string(node.line);
    c.what = fields.required_text("what");
    const table::Node* given = fields.child("given");
    if (given == nullptr) throw fields.error("", "has no given");
    c.given = read_given(document, *given);
    c.expect = fields.optional_text("expect"), c.exact = fields.optional_text("exact"),
    c.unit = fields.optional_text("unit");
    c.allow = fields.optional_text("allow"), c.below = fields.optional_text("below"),
    c.above = fields.optional_text("above");
    c.disagrees = fields.optional_text("disagrees");
    c.source = fields.required_text("source"), c.where = fields.optional_text("where");
    c.standing = fields.required_text("standing"), c.note = fields.optional_text("note");
    fields.expect_no_more();
    return c;
}

std::string text_of(const fs::path& path) {
    std::ifstream stream(path);
    std::ostringstream text;
    text << stream.rdbuf();
    return text.str();
}

}  // namespace

std::ostream& operator<<(std::ostream& out, const Check& check) { return out << check.label; }

std::vector<Check> all_checks() {
    std::vector<Check> checks;
    for (const fs::directory_entry& entry : fs::directory_iterator(GUARDBAND_PUBLISHED)) {
        if (entry.path().extension() != ".toml") continue;
        const table::Document document = table::parse_document(entry.path().string(), text_of(entry.path()));
        for (const auto& [key, list] : *document.root.as_table())
            for (const table::Node& node : *list.as_array()) checks.push_back(read_check(document, node));
    }
    return checks;
}

double allowance(const Check& check) {
    if (check.allow == "rounding") return quantity::half_last_digit(check.expect) * (1 + 1e-9);
    if (check.allow == "0" || check.allow.empty()) return 0;
    if (check.allow.find('%') != std::string::npos)
        return quantity::parse_quantity(check.allow, quantity::unit_named("share"), "allow").in("share") *
               std::stod(check.expect);
    return quantity::parse_quantity(check.allow, quantity::unit_named(check.unit), "allow").in(check.unit);
}

}  // namespace guardband
