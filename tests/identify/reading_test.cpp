// What is read: observations, evidence files, priors, shelves, captures. Each error names the place and the remedy.
#include <gmock/gmock.h>

#include <cmath>

#include "identify/alike.h"
#include "identify/answer.h"
#include "identify/built_in_models.h"
#include "identify/capture.h"
#include "identify/shelf.h"
#include "quantity/errors.h"

namespace guardband::identify {
namespace {

using support::built_in;

using quantity::InputError;
using testing::AllOf;
using testing::HasSubstr;
using testing::SizeIs;
using testing::ThrowsMessage;

Observation seen(const std::string& text) { return parse_observation(built_in(), text); }

TEST(Observed, TakesTheUncertaintyGivenElseTheUsualOne) {
    EXPECT_DOUBLE_EQ(seen("tape_width=12.65±0.1").uncertainty, 0.1);
    EXPECT_DOUBLE_EQ(seen("tape_width=12.65").uncertainty, 0.01 * 12.65);        // evidence.toml: 1 %
    EXPECT_DOUBLE_EQ(seen("track_pitch=49").uncertainty, 0.02 * 49);             // 2 %, above the rounding
    EXPECT_NEAR(seen("field_rate=50").uncertainty, 0.5 / std::sqrt(3.0), 1e-9);  // rounding, above 0.1 %
}

TEST(Observed, TakesUnitsAndContext) {
    EXPECT_NEAR(seen("tape_width=0.5in").value, 12.7, 1e-9);
    EXPECT_NEAR(*seen("control_track_rate=25.0@vhs:PAL:LP").played_mm_s, 11.7, 1e-9);
    EXPECT_NEAR(*seen("control_track_rate=25.0@1.313ips").played_mm_s, 33.35, 0.01);
    EXPECT_DOUBLE_EQ(seen("reel_period=3.5@83.5").diameter_mm, 83.5);
    EXPECT_NEAR(seen("programme_time=3:03:50").value, 11030, 1e-9);
    EXPECT_EQ(seen("colour=pal").text, "PAL");
    EXPECT_EQ(seen("label=HG E-180 @home").text, "HG E-180 @home");  // a label may hold any sign
}

void refuses(const std::string& text, const std::string& what, const std::string& remedy) {
    EXPECT_THAT([&] { seen(text); }, ThrowsMessage<InputError>(AllOf(HasSubstr(what), HasSubstr(remedy)))) << text;
}

TEST(Observed, RefusesWhatCantBe) {
    refuses("tape_wdith=3", "no kind of evidence", "did you mean \"tape_width\"?");
    refuses("tape_width=0", "outside what can be read", "2 to 60 mm");
    refuses("tape_width=12±13", "as uncertain as it is large", "below the value");
    refuses("tape_width=nan", "is not", "");
    refuses("reel_period=3", "needs the diameter", "@83.5");
    refuses("sound_speed_ratio=2", "needs the mode", "@FORMAT:SYSTEM:MODE");
    refuses("sound_speed_ratio=2@v-cord:525/60:none", "has no mode", "v-cord:525/60:skip");
    refuses("label=--", "nothing to read", "E-180");
    refuses("shell=vhz", "no shell", "did you mean \"vhs\"?");
}

TEST(Labels, TornOnesFitWhatTheyCanBe) {
    const std::vector<Observation> torn{seen("label=E-1?0"), seen("label=Super HG T-*"), seen("label=e 180")};
    const Evidence evidence(models(), torn);
    const table::TapeFormat& vhs = built_in().format("vhs", "");
    EXPECT_TRUE(evidence.fits(torn[0], vhs.find_grade("E-180")));
    EXPECT_TRUE(evidence.fits(torn[0], vhs.find_grade("E-120")));
    EXPECT_FALSE(evidence.fits(torn[0], vhs.find_grade("E-240")));
    EXPECT_TRUE(evidence.fits(torn[1], vhs.find_grade("T-120")));
    EXPECT_FALSE(evidence.fits(torn[1], vhs.find_grade("E-180")));
    EXPECT_TRUE(evidence.fits(torn[2], vhs.find_grade("E-180")));
    EXPECT_GT(evidence.label_share(torn[1]), evidence.label_share(torn[2]));
}

std::vector<Observation> evidence_of(const std::string& text) {
    return read_evidence(built_in(), table::parse_document("evidence.toml", text));
}

TEST(EvidenceFile, IsReadAndItsFaultsAreNamed) {
    const auto read = evidence_of(
        "what = \"a tape\"\n[[observation]]\nkind = \"shell\"\nvalue = \"vhs\"\nnote = \"lid broken\"\n"
        "[[observation]]\nkind = \"control_track_rate\"\nvalue = \"25.0\"\nat = \"vhs:PAL:SP\"\n");
    ASSERT_THAT(read, SizeIs(2));
    EXPECT_EQ(read[1].context, "vhs:PAL:SP");
    const auto complains = [](const std::string& text, const std::string& place) {
        EXPECT_THAT([&] { evidence_of(text); }, ThrowsMessage<InputError>(HasSubstr(place))) << text;
    };
    complains("", "evidence.toml: holds no [[observation]]");
    complains("[[observation]]\nkind = \"shell\"\n", "evidence.toml:1: [[observation]]: has no value");
    complains("[[observation]]\nkind = \"shel\"\nvalue = \"vhs\"\n", "evidence.toml:2: [[observation]].kind");
    complains("[[observation]]\nkind = \"shell\"\nvalue = \"vhx\"\n", "evidence.toml:3: [[observation]].value");
    complains("[[observation]]\nkind = \"shell\"\nvalue = \"vhs\"\nfoo = \"x\"\n",
              "evidence.toml:4: [[observation]].foo");
}

double share_of(const Prior& prior, const std::string& start) {
    double sum = 0;
    for (std::size_t i = 0; i < models().all().size(); ++i)
        if (models().all()[i].address.starts_with(start)) sum += prior.probabilities()[i];
    return sum;
}

TEST(PriorWeights, AreEvenOverFormatsAndMultiplied) {
    Prior prior(models());
    EXPECT_NEAR(share_of(prior, "quadruplex:"), share_of(prior, "type-a:"), 1e-12);
    const double before = share_of(prior, "vhs:525/60:");
    prior.weigh(weights_of(models(), region_named(built_in(), "North America", "")));
    EXPECT_GT(share_of(prior, "vhs:525/60:"), before);
    EXPECT_NEAR(share_of(prior, "vhs:525/60:") / share_of(prior, "vhs:625/50:"), 20, 1e-9);
    Prior own(models());
    own.weigh(read_prior(models(), table::parse_document("prior.toml", "[formats]\nvhs = 3\nbeta = 1.0\n\"*\" = 0\n")));
    EXPECT_NEAR(share_of(own, "vhs:"), 0.75, 1e-12);
    EXPECT_NEAR(share_of(own, "beta:"), 0.25, 1e-12);
}

TEST(PriorWeights, GoByWhatTheTableJudgesOfTapesThatTravelled) {
    table::Table table = table::load_table();
    std::vector<table::Fact> facts = table.tapes_at_large.all();
    std::ranges::find(facts, "from_elsewhere", &table::Fact::key)->value = 25;
    table.tapes_at_large = table::Facts(facts);
    const Models judged_otherwise(table);
    EXPECT_THAT(weights_of(judged_otherwise, region_named(table, "North America", "")),
                testing::IsSupersetOf({testing::DoubleEq(0.25), testing::DoubleEq(1)}));
}

TEST(PriorFile, FaultsAreNamed) {
    const auto complains = [](const std::string& text, const std::string& place) {
        EXPECT_THAT([&] { read_prior(models(), table::parse_document("prior.toml", text)); },
                    ThrowsMessage<InputError>(HasSubstr(place)))
            << text;
    };
    complains("[formats]\nvhx = 1\n", "prior.toml:2: formats.vhx");
    complains("[formats]\nvhs = -1\n", "prior.toml:2: formats.vhs: is no weight");
    complains("[format]\nvhs = 1\n", "did you mean \"formats\"?");
    complains("[formats]\n\"*\" = 0\n", "leaves no mode possible");
}

Answer answer_to(const std::vector<std::string>& texts) {
    std::vector<Observation> observations;
    for (const std::string& text : texts) observations.push_back(seen(text));
    return answer_of(models(), Prior(models()), std::move(observations), false);
}

TEST(Shelf, SaysWhatPlaysAndWhatIsMissing) {
    const auto shelf = read_shelf(built_in(), table::parse_document("shelf.toml", R"(
[[machine]]
id = "a"
name = "S-VHS machine"
plays = ["s-vhs:625/50"]
colours = ["PAL"]
[[machine]]
id = "b"
name = "old machine"
plays = ["vhs:625/50:SP"]
works = "no"
)"));
    EXPECT_TRUE(shelf[0].plays(built_in().format("vhs", ""), *built_in().at("vhs:625/50:LP", "").second));
    EXPECT_FALSE(shelf[0].plays(built_in().format("vhs", ""), *built_in().at("vhs:525/60:SP", "").second));
    const auto played =
        playable(shelf, answer_to({"shell=vhs", "tracks_per_mm=2.14", "line_rate=15625", "colour=SECAM"}));
    ASSERT_FALSE(played.empty());
    ASSERT_THAT(played[0].players, SizeIs(1));
    EXPECT_THAT(played[0].players[0].remark, HasSubstr("no SECAM"));
    const auto none = playable(shelf, answer_to({"shell=vhs", "tracks_per_mm=1.797", "line_rate=15734"}));
    EXPECT_TRUE(none[0].players.empty());
    EXPECT_THAT(none[0].missing[0], HasSubstr("not on 525/60"));
    EXPECT_THAT(
        [] {
            read_shelf(built_in(),
                       table::parse_document("shelf.toml",
                                             "[[machine]]\nid = \"a\"\nname = \"b\"\nplays = [\"vhs:405/50\"]\n"));
        },
        ThrowsMessage<InputError>(AllOf(HasSubstr("shelf.toml:"), HasSubstr("has no mode on 405/50"))));
}

TEST(Capture, FiguresBecomeEvidenceByTheirIds) {
    using quantity::Figure;
    quantity::Figures figures;
    figures.add("field_rate", Figure::measured(50, 1e-6, "Hz"));
    figures.add("luma_bandwidth", Figure::measured(2900, 50, "kHz"));
    figures.add("sound_speed_ratio", Figure::measured(2, 0.01, ""));
    figures.add("pulse_rate", Figure::measured(50, 0.01, "Hz"));
    figures.add("colour", Figure::text("PAL"));
    figures.add("line_rate", Figure::unknown("not in a clip"));
    figures.add("black_level", Figure::measured(16, 1, ""));
    const auto read = observations_from(built_in(), figures, "vhs:PAL:SP", "capture");
    ASSERT_THAT(read, SizeIs(5));
    EXPECT_EQ(read[0].kind, Kind::FieldRate);
    EXPECT_NEAR(read[0].uncertainty, 0.05, 1e-3);  // the machines' own 0.1 %, not the capture's clock
    EXPECT_NEAR(read[2].value, 2.9, 1e-6);
    EXPECT_THAT(read[0].text, HasSubstr("50.0000±0.05")) << "no more digits than the uncertainty bears";
    EXPECT_NEAR(*read[4].played_mm_s, 23.39, 1e-9);
    EXPECT_THAT(observations_from(built_in(), figures, "", "capture"), SizeIs(4)) << "a ratio to nothing says nothing";
    figures.add("scan", Figure::text("progressive"));
    EXPECT_THAT(observations_from(built_in(), figures, "", "capture"), SizeIs(3)) << "nor do frames of fields";
}

TEST(Capture, ColourIsWhatWasRecordedAndNotWhatAPlayerMadeOfIt) {
    const auto colour_of = [](const std::string& shown) {
        quantity::Figures figures;
        figures.add("colour", quantity::Figure::text(shown));
        const auto read = observations_from(built_in(), figures, "", "capture");
        return read.size() == 1 ? read[0].text : "";
    };
    EXPECT_EQ(colour_of("PAL-M"), "PAL");
    EXPECT_EQ(colour_of("NTSC-J"), "NTSC");
    EXPECT_EQ(colour_of("PAL 60"), "NTSC");
    EXPECT_EQ(colour_of("NTSC 4.43"), "NTSC");
    EXPECT_EQ(colour_of("SECAM"), "SECAM");
    EXPECT_EQ(colour_of("none"), "none");
    EXPECT_EQ(colour_of("sepia"), "");
}

TEST(Alike, VhsAndSVhsAreAndTheirSpeedsAreNot) {
    const auto at = [](const std::string& address) {
        return static_cast<std::size_t>(std::ranges::find(models().all(), address, &ModeModel::address) -
                                        models().all().begin());
    };
    EXPECT_FALSE(told_apart(models(), at("vhs:625/50:SP"), at("s-vhs:625/50:SP")));
    EXPECT_TRUE(told_apart(models(), at("vhs:625/50:SP"), at("vhs:625/50:LP")));
    EXPECT_TRUE(told_apart(models(), at("vhs:625/50:SP"), at("vhs-c:625/50:SP")));  // by the shell
    EXPECT_TRUE(told_apart(models(), at("vhs:625/50:SP"), at("fixed-head-405:405/50:standard")));
    for (const auto& group : groups_alike(models()))
        for (const std::size_t a : group)
            for (const std::size_t b : group) EXPECT_FALSE(told_apart(models(), a, b));
}

}  // namespace
}  // namespace guardband::identify
