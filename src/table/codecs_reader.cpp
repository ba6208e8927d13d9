#include "table/codecs_reader.h"

#include <array>

#include "table/entries.h"
#include "table/suggestion.h"

namespace guardband::table {
namespace {

/// Reads one codec: its own figures, then those by system or by picture that its coding asks for.
class CodecReading {
public:
    CodecReading(Fields& fields, const Table& table)
        : fields_(fields), table_(table), facts_(fields.document(), table) {}

    Codec whole() {
        codec_.id = fields_.required_text("id");
        codec_.name = fields_.required_text("name");
        codec_.aliases = fields_.texts("aliases");
        codec_.coding = coding();
        for_each_section(fields_, "system", [&](Fields& part) { read_system(part); });
        for_each_section(fields_, "picture", [&](Fields& part) { read_picture(part); });
        codec_.facts = facts_of(fields_, SectionKind::Codec, codec_.id);
        expect_what_the_coding_asks();
        return std::move(codec_);
    }

private:
    Coding coding() {
        const std::string word = fields_.required_text("coding");
        for (const Coding coding : {Coding::Uncompressed, Coding::ConstantRate, Coding::Lossless, Coding::Lossy})
            if (to_string(coding) == word) return coding;
        throw fields_.error("coding", "\"" + word + "\" is not one of the words for it",
                            "use uncompressed, constant rate, lossless, lossy");
    }

    Facts facts_of(Fields& fields, SectionKind section, const std::string& id) const {
        Facts facts = facts_.read_all(fields, section, "");
        expect_complete(fields.document(), fields.line(), std::string(to_string(section)) + " " + id, facts, section);
        return facts;
    }

    void read_system(Fields& fields) {
        CodecSystem system{fields.required_text("id"), {}};
        if (std::ranges::find(table_.scannings, system.id, &Scanning::id) == table_.scannings.end())
            throw fields.error("id", "no scanning standard \"" + system.id + "\"", "use an id of tv-systems.toml");
        if (std::ranges::find(codec_.systems, system.id, &CodecSystem::id) != codec_.systems.end())
            throw fields.error("id", "\"" + system.id + "\" stands twice");
        system.facts = facts_of(fields, SectionKind::CodecSystem, system.id);
        codec_.systems.push_back(std::move(system));
    }

    void read_picture(Fields& fields) {
        CodecPicture picture{fields.required_text("id"), {}};
        if (std::ranges::find(codec_.pictures, picture.id, &CodecPicture::id) != codec_.pictures.end())
            throw fields.error("id", "\"" + picture.id + "\" stands twice");
        picture.facts = facts_of(fields, SectionKind::CodecPicture, picture.id);
        codec_.pictures.push_back(std::move(picture));
    }

    void expect_what_the_coding_asks() const {
        const bool has_groups =
            codec_.facts.known("group_bytes") != nullptr && codec_.facts.known("group_pixels") != nullptr;
        if ((codec_.coding == Coding::Uncompressed) != has_groups)
            throw fields_.error("coding", "uncompressed goes with group_bytes and group_pixels, and they with it");
        if ((codec_.coding == Coding::ConstantRate) != !codec_.systems.empty())
            throw fields_.error("coding", "constant rate goes with [[codec.system]], and it with constant rate");
        if ((codec_.coding == Coding::Lossless) != !codec_.pictures.empty())
            throw fields_.error("coding", "lossless goes with [[codec.picture]], and it with lossless");
    }

    Fields& fields_;
    const Table& table_;
    FactReader facts_;
    Codec codec_;
};

Container read_container(Fields& fields, const Table& table) {
    Container container{fields.required_text("id"), fields.required_text("name"), fields.texts("aliases"), {}};
    container.facts = FactReader(fields.document(), table).read_all(fields, SectionKind::Container, "");
    expect_complete(fields.document(), fields.line(), "[[container]] " + container.id, container.facts,
                    SectionKind::Container);
    return container;
}

}  // namespace

void read_codecs(const Document& document, Table& table) {
    Fields root(document, document.root, "");
    for_each_section(root, "codec", [&](Fields& fields) { put(table.codecs, CodecReading(fields, table).whole()); });
    for_each_section(root, "container", [&](Fields& fields) { put(table.containers, read_container(fields, table)); });
    root.expect_no_more();
}

}  // namespace guardband::table
