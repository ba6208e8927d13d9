#include "testsignal/command.h"

#include <fmt/format.h>
#include <CLI/CLI.hpp>
#include <algorithm>
#include <filesystem>
#include <fstream>
#include <map>
#include <ostream>
#include <variant>

#include "quantity/errors.h"
#include "testsignal/clip_writer.h"
#include "testsignal/composite/recipe_reader.h"
#include "testsignal/composite/writer.h"
#include "testsignal/recipe_reader.h"
#include "testsignal/sound_recipe.h"
#include "testsignal/sound_writer.h"
#include "testsignal/truth_json.h"

namespace guardband::testsignal {
namespace {

namespace fs = std::filesystem;
using quantity::InputError;

struct Options {
    std::vector<std::string> recipes;
    std::string folder = ".";
    bool keep = false;
};

using AnyRecipe = std::variant<Recipe, SoundRecipe, CompositeRecipe>;

struct Order {
    AnyRecipe recipe;
    std::string path;  ///< of the recipe's file

    const std::string& name() const {
        return std::visit([](const auto& r) -> const std::string& { return r.name; }, recipe);
    }
};

AnyRecipe read_any(const std::string& path, const table::Table& table) {
    if (auto composite = read_composite_recipe(path, table)) return *std::move(composite);
    if (auto sound = read_sound_recipe(path)) return *std::move(sound);
    return read_recipe(path, table);
}

/// All recipes before any clip is made, so that a mistake in the last one costs nothing.
std::vector<Order> read_all(const std::vector<std::string>& paths) {
    const table::Table table = table::load_table();
    std::vector<Order> orders;
    std::map<std::string, std::string> names;
    for (const auto& path : paths) {
        orders.push_back({read_any(path, table), path});
        const auto [taken, is_new] = names.emplace(orders.back().name(), path);
        if (!is_new)
            throw InputError(path, fmt::format("makes \"{}\" as {} does", taken->first, taken->second),
                             "change one name");
    }
    return orders;
}

void make_folder(const std::string& folder) {
    std::error_code error;
    fs::create_directories(folder, error);
    if (!fs::is_directory(folder)) throw InputError(folder, "is not a folder and can't be made one", "choose another");
}

void write_text(const fs::path& path, const std::string& text) {
    const fs::path part = path.string() + ".part";
    std::ofstream file(part, std::ios::binary);
    file << text;
    file.close();
    if (!file) {
        std::error_code ignored;
        fs::remove(part, ignored);
        throw InputError(path.string(), "can't be written", "check the folder and the space in it");
    }
    fs::rename(part, path);
}

std::string summary(const Recipe& r, const Truth& truth, const fs::path& clip) {
    return fmt::format("{}: {} frames of {}x{} at {} frames/s, {:.1f} MB; {}", clip.string(), truth.frame_count,
                       r.raster.width, r.raster.height, quantity::to_string(r.raster.frame_rate),
                       static_cast<double>(fs::file_size(clip)) / 1e6, r.title.empty() ? "truth beside it" : r.title);
}

bool is_newer(const fs::path& made, const fs::path& recipe) {
    return fs::exists(made) && fs::last_write_time(made) > fs::last_write_time(recipe);
}

void make_clip(const Recipe& recipe, const fs::path& clip, const fs::path& truth_path, std::ostream& out,
               std::ostream* progress) {
    const auto show = [&](std::int64_t done, std::int64_t all) {
        if (progress) *progress << fmt::format("\r{}  {:3d} %", recipe.name, 100 * done / all) << std::flush;
    };
    const Truth truth = write_clip(recipe, clip.string(), show);
    if (progress) *progress << "\r\x1b[K" << std::flush;
    write_text(truth_path, truth_json(truth, clip.filename().string()));
    out << summary(recipe, truth, clip) << "\n" << std::flush;
}

void make_sound(const SoundRecipe& recipe, const fs::path& wav, const fs::path& truth_path, std::ostream& out) {
    write_text(truth_path, write_sound(recipe, wav.string()));
    constexpr double bytes_per_sample = 3, header_bytes = 44;
    const double samples = (static_cast<double>(fs::file_size(wav)) - header_bytes) / bytes_per_sample;
    out << fmt::format("{}: {:.4g} s of sound at {:g} Hz; {}\n", wav.string(), samples / recipe.sample_rate_hz(),
                       recipe.sample_rate_hz(), recipe.title.empty() ? "truth beside it" : recipe.title)
        << std::flush;
}

void make_composite_file(const CompositeRecipe& recipe, const fs::path& made, const fs::path& truth_path,
                         std::ostream& out) {
    write_text(truth_path, write_composite(recipe, made.string()));
    const std::string& colour = recipe.system.colour.empty() ? recipe.system.scanning : recipe.system.colour;
    out << fmt::format("{}: {:.4g} s of {} at {:.6g} MS/s, {:.1f} MB; {}\n", made.string(), recipe.duration_s, colour,
                       recipe.sampling.rate_hz.value() / 1e6, static_cast<double>(fs::file_size(made)) / 1e6,
                       recipe.title.empty() ? "truth beside it" : recipe.title)
        << std::flush;
}

std::string extension_of(const AnyRecipe& recipe) {
    if (const auto* clip = std::get_if<Recipe>(&recipe)) return clip->container;
    if (const auto* composite = std::get_if<CompositeRecipe>(&recipe)) return composite_extension(*composite);
    return "wav";
}

void make(const Order& order, const Options& options, std::ostream& out, std::ostream* progress) {
    const auto* clip = std::get_if<Recipe>(&order.recipe);
    const auto* composite = std::get_if<CompositeRecipe>(&order.recipe);
    const fs::path made = fs::path(options.folder) / (order.name() + "." + extension_of(order.recipe));
    const fs::path truth_path = fs::path(options.folder) / (order.name() + ".truth.json");
    if (options.keep && is_newer(made, order.path) && is_newer(truth_path, order.path))
        out << fmt::format("{}: newer than its recipe, kept\n", made.string());
    else if (clip != nullptr)
        make_clip(*clip, made, truth_path, out, progress);
    else if (composite != nullptr)
        make_composite_file(*composite, made, truth_path, out);
    else
        make_sound(std::get<SoundRecipe>(order.recipe), made, truth_path, out);
}

}  // namespace

int run(std::vector<std::string> arguments, std::ostream& out, std::ostream& err, std::ostream* progress) {
    CLI::App app(
        "Makes video clips, composite video as samples, test tones and pulses with known faults from recipes, and "
        "writes "
        "the truth about each as JSON beside it.",
        "guardband-testsignal");
    Options options;
    app.add_option("recipe", options.recipes, "recipe files (TOML); samples/ has some")->required();
    app.add_option("-o,--output", options.folder, "folder for the clips; made if it is not there")
        ->capture_default_str();
    app.add_flag("--keep", options.keep, "leave clips alone that are newer than their recipes");
    try {
        std::ranges::reverse(arguments);  // the order in which CLI11 takes a vector
        app.parse(arguments);
        const auto orders = read_all(options.recipes);
        make_folder(options.folder);
        silence_libav();
        for (const auto& order : orders) make(order, options, out, progress);
        return 0;
    } catch (const CLI::ParseError& e) {
        if (e.get_exit_code() == 0) return app.exit(e, out, err);
        err << "guardband-testsignal: " << e.what() << "; --help tells the usage\n";
        return 2;
    } catch (const InputError& e) {
        if (progress) *progress << "\r\x1b[K" << std::flush;
        err << e.what() << "\n";
        return 2;
    } catch (const std::exception& e) {
        err << "guardband-testsignal: " << e.what() << "\n";
        return 1;
    }
}

}  // namespace guardband::testsignal
