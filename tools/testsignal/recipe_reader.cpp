#include "testsignal/recipe_reader.h"

#include <fmt/format.h>
#include <charconv>
#include <fstream>
#include <sstream>
#include <tuple>

#include "quantity/errors.h"
#include "testsignal/recipe_sections.h"
#include "testsignal/section.h"

namespace guardband::testsignal {
namespace {

using quantity::InputError;

const std::vector<std::pair<std::string, FieldOrder>> field_orders{{"top first", FieldOrder::TopFirst},
                                                                   {"bottom first", FieldOrder::BottomFirst}};
const std::vector<std::pair<std::string, DeclaredOrder>> declared_orders{{"top first", DeclaredOrder::TopFirst},
                                                                         {"bottom first", DeclaredOrder::BottomFirst},
                                                                         {"progressive", DeclaredOrder::Progressive},
                                                                         {"unknown", DeclaredOrder::Unknown}};

/// `720x576`.
std::pair<int, int> read_size(Section& top, const std::string& text) {
    const auto cross = text.find('x');
    const auto part = [&](std::size_t from, std::size_t to) {
        int value = 0;
        const auto [end, error] = std::from_chars(text.data() + from, text.data() + to, value);
        if (error != std::errc{} || end != text.data() + to || value <= 0)
            top.fail("raster", fmt::format("\"{}\" is not a size", text), "write it as \"720x576\"");
        return value;
    };
    if (cross == std::string::npos)
        top.fail("raster", fmt::format("\"{}\" is not a size", text), "write it as \"720x576\"");
    return {part(0, cross), part(cross + 1, text.size())};
}

const table::Raster* raster_of(const table::Table& table, const std::string& scanning, const std::string& size,
                               Codec codec) {
    const table::Raster* found = nullptr;
    for (const auto& raster : table.rasters) {
        if (raster.scanning != scanning || (!size.empty() && raster.id != size)) continue;
        // A system may have a taller raster for tape transfers and a lower one, which is DV's.
        if (!found || (codec == Codec::Dv) == (raster.height() < found->height())) found = &raster;
    }
    return found;
}

/// Takes everything that the system fixes from the table; keys of the recipe may override it afterwards.
void apply_system(Recipe& recipe, Section& top, const table::Table& table, const std::string& size) {
    const table::Scanning* scanning = table.find_scanning(recipe.system);
    if (!scanning)
        top.fail("system", fmt::format("\"{}\" is not in the table", recipe.system),
                 "give 625/50 or 525/60, or raster and frame_rate");
    const table::Raster* raster = raster_of(table, scanning->id, size, recipe.codec);
    if (!raster)
        top.fail(size.empty() ? "system" : "raster", fmt::format("the table has no such raster of {}", scanning->id),
                 "leave system out and give raster and frame_rate");
    recipe.system = scanning->id;
    auto& r = recipe.raster;
    r.width = raster->width(), r.height = raster->height();
    r.frame_rate = scanning->frame_rate();
    r.line_rate_hz = scanning->line_rate().value();
    r.black_code = raster->black_code(), r.white_code = raster->white_code();
    if (const auto* rate = raster->facts.known("sampling_rate")) r.luma_sampling_hz = rate->in("Hz");
    if (const auto* aspect = raster->facts.known("pixel_aspect"); aspect && aspect->exact)
        r.sample_aspect = *aspect->exact;
    if (const auto* order = raster->facts.known("field_order"))
        recipe.field_order = order->printed == "bottom first" ? FieldOrder::BottomFirst : FieldOrder::TopFirst;
}

void read_codec(Recipe& recipe, Section& top) {
    const auto codec = top.choice<Codec>("codec", {{"ffv1", Codec::Ffv1}, {"v210", Codec::V210}, {"dv", Codec::Dv}});
    recipe.codec = codec.value_or(Codec::Ffv1);
    recipe.container = recipe.codec == Codec::Ffv1 ? "mkv" : recipe.codec == Codec::V210 ? "mov" : "dv";
    top.read("container", recipe.container);
}

void read_raster(Recipe& recipe, Section& top, const table::Table& table) {
    std::string size;
    top.read("system", recipe.system);
    top.read("raster", size);
    top.read_rate("frame_rate", recipe.raster.frame_rate);
    if (!recipe.system.empty()) {
        if (top.has("frame_rate")) top.fail("frame_rate", "the system fixes it", "leave it out, or leave system out");
        apply_system(recipe, top, table, size);
    } else {
        if (size.empty() || !top.has("frame_rate"))
            top.fail("raster", "neither a system nor raster and frame_rate are given", "add system = \"625/50\"");
        std::tie(recipe.raster.width, recipe.raster.height) = read_size(top, size);
        recipe.raster.line_rate_hz = recipe.raster.height * recipe.raster.frame_rate.value();  // no field blanking
    }
    top.read_rate("sample_aspect", recipe.raster.sample_aspect);
}

void read_samples(Recipe& recipe, Section& top) {
    if (recipe.codec == Codec::Dv) {
        recipe.bit_depth = 8;
        recipe.chroma = recipe.system == "525/60" ? ChromaSampling::C411 : ChromaSampling::C420;
        recipe.field_order = FieldOrder::BottomFirst;
    }
    top.read("bit_depth", recipe.bit_depth);
    using enum ChromaSampling;
    if (const auto chroma = top.choice<ChromaSampling>("chroma", {{"4:2:2", C422}, {"4:2:0", C420}, {"4:1:1", C411}}))
        recipe.chroma = *chroma;
}

void read_top(Recipe& recipe, Section& top, const table::Table& table) {
    top.read("name", recipe.name);
    top.read("title", recipe.title);
    top.read("invented", recipe.invented);
    read_codec(recipe, top);
    read_raster(recipe, top, table);
    read_samples(recipe, top);
    if (const auto scan =
            top.choice<Scan>("scan", {{"interlaced", Scan::Interlaced}, {"progressive", Scan::Progressive}}))
        recipe.scan = *scan;
    if (const auto order = top.choice<FieldOrder>("field_order", field_orders)) recipe.field_order = *order;
    recipe.declared_order = top.choice<DeclaredOrder>("declared_order", declared_orders);
    top.read("duration_s", recipe.duration_s);
    top.read("seed", recipe.seed);
    top.read("sound", recipe.sound);
    top.read("pulldown", recipe.pulldown);
}

/// Line of a dotted key such as `faults.repeated_fields`, or of what stands nearest to it.
int line_of(Section& top, const std::string& key) {
    const auto dot = key.find('.');
    if (dot == std::string::npos) return top.line_of(key);
    const auto inner = top.inner(key.substr(0, dot));
    return inner ? inner->line_of(key.substr(dot + 1)) : top.line_of("");
}

}  // namespace

Recipe parse_recipe(const std::string& file, std::string_view text, const table::Table& table) {
    const table::Document document = table::parse_document(file, text);
    Section top(document, document.root);
    Recipe recipe;
    read_top(recipe, top, table);
    read_sections(recipe, top, table);
    try {
        check(recipe);
        check_file(recipe);
    } catch (const InputError& e) {
        throw table::error_at(document, line_of(top, e.input()), e.input(), e.fault(), e.remedy());
    }
    return recipe;
}

Recipe read_recipe(const std::string& path, const table::Table& table) {
    std::ifstream file(path, std::ios::binary);
    std::ostringstream text;
    if (!file || !(text << file.rdbuf()))
        throw InputError(path, "can't be read as a recipe", "give the path of a TOML file");
    return parse_recipe(path, text.str(), table);
}

}  // namespace guardband::testsignal
