#include "cli/input/pile_file.hpp"
#include "models/operations/build.hpp"

#include "cli/input/pile_volume.hpp"
#include "tests/cli/output/temporary_folder.hpp"
#include "tests/cli/sample_text.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>
#include <vector>

#include <fmt/format.h>
#include <unistd.h>

namespace heapcast::cli {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

/// An invented pile with nothing wrong in it.
const std::string good = tests::invented_site("Leaves and manure") + R"([measures]
barrow = "90 L"
[pile]
shape = "heap"
[[material]]
name = "dry_leaves"
amount = "12 barrows"
[[material]]
name = "cattle_manure"
amount = "420 kg"
[turning]
every = "3 days"
[run]
days = 20
)";

/// `good` with `from` replaced by `to`; nothing to replace means to add at the end.
std::string edited(std::string_view from, std::string_view to) {
  std::string text = good;
  if (from.empty()) {
    return text += to;
  }
  const auto at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return text.replace(at, from.size(), to);
}

/// "pile.toml:LINE:COLUMN" of the first `part` in `text`.
std::string place_of(std::string_view text, std::string_view part) {
  const auto at = text.find(part);
  EXPECT_NE(at, std::string_view::npos) << part;
  const std::string_view before = text.substr(0, at);
  const auto line = std::count(before.begin(), before.end(), '\n') + 1;
  const auto column =
      at - (before.rfind('\n') == std::string_view::npos ? 0 : before.rfind('\n') + 1) + 1;
  return fmt::format("pile.toml:{}:{}", line, column);
}

std::vector<Fault> faults_of(const std::string& text, const PileFileOptions& options = {}) {
  try {
    static_cast<void>(parse_pile_file(text, options));
  } catch (const InputError& error) {
    return error.faults();
  }
  return {};
}

models::PileDescription parsed(const std::string& text, const PileFileOptions& options = {}) {
  return *parse_pile_file(text, options).pile;
}

struct BadInput {
  std::string_view name;
  std::string_view from; ///< replaced in `good`
  std::string_view to;
  std::string_view at;     ///< the fault is at the first place of this text
  std::string_view what;   ///< part of what is wrong, with the value
  std::string_view remedy; ///< part of what to do
};

void PrintTo(const BadInput& input, std::ostream* out) {
  *out << input.name;
}

class PileFileFault : public testing::TestWithParam<BadInput> {};

TEST_P(PileFileFault, SaysWhereWhatAndWhatToDo) {
  const BadInput& input = GetParam();
  const std::string text = edited(input.from, input.to);
  const std::vector<Fault> faults = faults_of(text);
  ASSERT_EQ(faults.size(), 1U) << InputError(faults).what();
  EXPECT_EQ(faults[0].where, place_of(text, input.at)) << faults[0].what;
  EXPECT_THAT(faults[0].what, HasSubstr(std::string(input.what)));
  EXPECT_THAT(faults[0].remedy, HasSubstr(std::string(input.remedy)));
}

constexpr std::string_view heap = "shape = \"heap\"";
constexpr std::string_view every = "every = \"3 days\"";
constexpr std::string_view leaves = "name = \"dry_leaves\"";

INSTANTIATE_TEST_SUITE_P(
    Table, PileFileFault,
    testing::Values(
        // What is no TOML.
        BadInput{"TextWithoutQuotes", "\"Leaves and manure\"", "Leaves", "Leaves", "not TOML",
                 "in \"quotes\""},
        BadInput{"KeyTwice", heap, "shape = \"heap\"\nshape = \"bin\"", "\"bin\"", "not TOML",
                 "mend"},
        // Sections.
        BadInput{"MisspeltSection", "[turning]", "[turnign]", "turnign",
                 "did you mean \"turning\"?", "write turning"},
        BadInput{"UnknownSection", "", "[fertiliser]\nkind = \"x\"\n", "fertiliser",
                 "the file has no key \"fertiliser\"", "use one of title, site"},
        BadInput{"SingleBrackets", "", "[add]\nevery = \"7 days\"\n", "[add]",
                 "add is a single section", "[[add]]"},
        BadInput{"SectionIsValue", "title =", "cover = 3\ntitle =", "3", "cover is 3",
                 "write [cover]"},
        BadInput{"NoPile", "[pile]\nshape = \"heap\"\n", "", "title", "no [pile] section",
                 "add [pile]"},
        // Keys.
        BadInput{"MisspeltKey", "latitude =", "lattitude = \"1 deg\"\nlatitude =", "lattitude",
                 "[site] has no key \"lattitude\"; did you mean \"latitude\"?", "write latitude"},
        BadInput{"MisspeltKeyInMaterial", leaves, "name = \"dry_leaves\"\nchopp = \"5 cm\"",
                 "chopp", "[[material]] has no key \"chopp\"", "write chop"},
        BadInput{"MisspeltParameter", "days = 20", "days = 20\n[run.parameters]\nfastrate = 0.4",
                 "fastrate", "did you mean \"fast_rate\"?", "write fast_rate"},
        BadInput{"MissingKey", "latitude = \"47.5 deg\"\n", "", "[site]",
                 "[site] has no key \"latitude\"", "add latitude = \"47.5 deg\""},
        BadInput{"MissingAmount", "amount = \"420 kg\"\n", "", "[[material]]\nname = \"cattle",
                 "no key \"amount\"", "add amount ="},
        // Types and units.
        BadInput{"BareNumber", heap, "shape = \"heap\"\nheight = 1.2", "1.2", "\"1.2\" has no unit",
                 "height = \"1.2 m\""},
        BadInput{"BareLatitude", "\"47.5 deg\"", "47.5", "47.5", "has no unit", "deg"},
        BadInput{"WrongDimension", heap, "shape = \"heap\"\nheight = \"3 kg\"", "\"3 kg\"",
                 "\"3 kg\" is a mass", "1.2 m"},
        BadInput{"UnknownUnit", heap, "shape = \"heap\"\nheight = \"3 mtr\"", "\"3 mtr\"",
                 "not a known unit", "1.2 m"},
        BadInput{"AmbiguousTon", "\"420 kg\"", "\"2 tons\"", "\"2 tons\"", "more than one meaning",
                 "1000 kg"},
        BadInput{"UnknownMeasure", "\"12 barrows\"", "\"12 barows\"", "\"12 barows\"", "barows",
                 "barrow"},
        BadInput{"DecimalComma", "\"420 kg\"", "\"4,2 kg\"", "\"4,2 kg\"", "comma",
                 "decimal point"},
        BadInput{"NumberForText", "\"dry_leaves\"", "7", "7\namount", "name is 7", "wheat_straw"},
        BadInput{"TextForFlag", heap, "shape = \"heap\"\nlayered = \"yes\"", "\"yes\"",
                 "layered is \"yes\", but true or false", "layered = true"},
        BadInput{"ListForQuantity", heap, "shape = \"heap\"\nheight = [\"1 m\"]", "[\"1 m\"]",
                 "height is a list", "height = \"1.2 m\""},
        BadInput{"NaN", "days = 20", "days = nan", "nan", "days: \"nan days\"", "days = 60"},
        BadInput{"Infinite", "days = 20", "days = inf", "inf", "inf", "days = 60"},
        BadInput{"NaNParameter", "days = 20", "days = 20\n[run.parameters]\nfast_rate = nan", "nan",
                 "fast_rate is nan 1/d, outside 0.25 to 1", "inside the range"},
        // Ranges and choices.
        BadInput{"OutOfRange", heap, "shape = \"heap\"\nheight = \"40 m\"", "\"40 m\"",
                 "height is \"40 m\", outside 5 cm to 10 m", "write 5 cm to 10 m"},
        BadInput{"Negative", heap, "shape = \"heap\"\nheight = \"-1 m\"", "\"-1 m\"", "outside",
                 "5 cm"},
        BadInput{"BeyondPole", "\"47.5 deg\"", "\"97.5 deg\"", "\"97.5 deg\"",
                 "latitude is \"97.5 deg\", outside -90 deg to 90 deg", "-90 deg"},
        BadInput{"ParameterOutOfRange", "days = 20", "days = 20\n[run.parameters]\nfast_rate = 7",
                 "7\n", "fast_rate is 7 1/d, outside 0.25 to 1 1/d", "inside the range"},
        BadInput{"ZeroAmount", "\"420 kg\"", "\"0 kg\"", "\"0 kg\"", "amount is \"0 kg\"",
                 "420 kg"},
        BadInput{"NegativeAmount", "\"420 kg\"", "\"-5 kg\"", "\"-5 kg\"", "negative", "420 kg"},
        BadInput{"MisspeltChoice", heap, "shape = \"windrows\"", "\"windrows\"",
                 "did you mean \"windrow\"?", "one of \"windrow\", \"heap\""},
        BadInput{"NoWholeHours", "days = 20", "days = 20\noutput = \"90 min\"", "\"90 min\"",
                 "output is 1.5 h", "whole hours"},
        BadInput{"PicturesOffTheCurve", "days = 20",
                 "days = 20\noutput = \"2 h\"\npictures = \"5 h\"", "\"5 h\"", "every 5 h",
                 "multiple of output"},
        // Dates and schedules.
        BadInput{"NoSuchDay", "\"2013-10-05\"", "\"2013-02-30\"", "\"2013-02-30\"",
                 "start is \"2013-02-30\", which is no date", "2013-10-05"},
        BadInput{"DateBeforeBuild", every, "on = \"2013-10-01\"", "\"2013-10-01\"",
                 "before the build", "day 0"},
        BadInput{"UntilBeforeFrom", every, "every = \"3 days\"\nfrom = 9\nuntil = 4", "4\n",
                 "until day 4 is before from day 9", "later"},
        BadInput{"NoSchedule", every, "method = \"fork\"", "[turning]", "does not say when",
                 "every = \"7 days\""},
        BadInput{"UnknownConditionQuantity", every, "when = \"core_temprature < 50 degC\"",
                 "\"core_temprature", "did you mean \"core_temperature\"?", "core_temperature"},
        BadInput{"ConditionWithoutSign", every, "when = \"moisture 45 %\"", "\"moisture 45 %\"",
                 "no < or >", "when ="},
        BadInput{"ConditionWithoutUnit", every, "when = \"moisture < 45\"", "\"moisture < 45\"",
                 "\"45\" has no unit", "%"},
        BadInput{"ConditionOutOfReach", every, "when = \"core_oxygen < 50 %\"", "\"core_oxygen",
                 "50 %\" of core_oxygen is outside 0 % to 21 %", "can be reached"},
        BadInput{"ConditionAfterSameSign", every,
                 "when = \"core_temperature < 50 degC after < 55 degC\"", "\"core_temperature",
                 "same sign", "other side"},
        BadInput{"ConditionAfterWrongWay", every,
                 "when = \"core_temperature < 50 degC after > 45 degC\"", "\"core_temperature",
                 "both sides", "higher"},
        BadInput{"NoSuchWeekday", every, "every = \"3 days\"\nweekdays = [\"saturdy\"]",
                 "\"saturdy\"", "did you mean \"saturday\"?", "weekdays ="},
        BadInput{"NoWeekday", every, "every = \"3 days\"\nweekdays = []", "[]", "empty list",
                 "name the days"},
        // What keys say together.
        BadInput{"WidthOfHeap", heap, "shape = \"heap\"\nwidth = \"2 m\"", "\"2 m\"",
                 "a heap has no width", "diameter"},
        BadInput{"ProfileOfHeap", heap, "shape = \"heap\"\nprofile = \"trapezoidal\"",
                 "\"trapezoidal\"", "a heap is not trapezoidal", "\"dome\" or \"cone\""},
        BadInput{
            "TopWiderThanBase", heap,
            "shape = \"windrow\"\nprofile = \"trapezoidal\"\nwidth = \"1 m\"\ntop_width = \"2 m\"",
            "\"2 m\"", "the top is 2 m wide, the base only 1 m", "wider"},
        BadInput{"WallsOfHeap", heap, "shape = \"heap\"\n[pile.walls]\nopen = \"20 %\"",
                 "[pile.walls]", "only a bin has walls", "shape = \"bin\""},
        BadInput{"HeapThatDoesNotEnclose", heap,
                 "shape = \"heap\"\nheight = \"1 m\"\ndiameter = \"4 m\"", "\"1 m\"",
                 "the dimensions enclose 6.28 m3, but the materials fill",
                 "leave out one dimension"},
        BadInput{"BinThatOverflows", heap,
                 "shape = \"bin\"\nheight = \"1 m\"\nwidth = \"1 m\"\nlength = \"1 m\"", "\"1 m\"",
                 "the bin holds 1 m3, but the materials fill", "make the bin larger"},
        BadInput{"LayerInMixedPile", leaves, "name = \"dry_leaves\"\nlayer = 1", "1\n",
                 "the pile is mixed", "layered = true"},
        BadInput{"WateringTwice", "",
                 "[watering]\nevery = \"5 days\"\nlitres = 40\nto = \"58 %\"\n", "\"58 %\"",
                 "both litres and to", "either litres"},
        BadInput{"WateringWithoutAmount", "", "[watering]\nevery = \"5 days\"\n", "[watering]",
                 "does not say how much", "litres = \"40 L\""},
        BadInput{"BlanketWithoutThickness", "", "[cover]\nkind = \"blanket\"\n", "\"blanket\"",
                 "needs a thickness", "15 cm"},
        BadInput{"ThicknessOfTarp", "", "[cover]\nkind = \"tarp\"\nthickness = \"5 cm\"\n",
                 "\"5 cm\"", "only a blanket has a thickness", "leave it out"},
        BadInput{"FanTimeWithoutFan", "", "[air]\non_minutes = 10\n", "10\n", "there is no fan",
                 "fan = \"20 m3/h\""},
        BadInput{"TwoCoverChanges", "",
                 "[[cover.change]]\nday = 7\nkind = \"none\"\n[[cover.change]]\nday = 7.0\nkind = "
                 "\"tarp\"\n",
                 "7.0", "day 7 has two changes", "keep one"},
        // Materials.
        BadInput{"MisspeltMaterial", "\"dry_leaves\"", "\"dry_leafs\"", "\"dry_leafs\"",
                 "did you mean \"dry_leaves\"?", "heapcast materials"},
        BadInput{"WordForMaterial", "\"dry_leaves\"", "\"straw\"", "\"straw\"", "there is \"",
                 "give the material in full"},
        BadInput{"Water", "\"dry_leaves\"", "\"water\"", "\"water\"", "no material", "[watering]"},
        BadInput{"PropertyWithoutBasis", leaves, "name = \"dry_leaves\"\nnitrogen = \"2.1 %\"",
                 "\"2.1 %\"", "nitrogen", "% dry"},
        BadInput{"PropertyOutOfRange", leaves, "name = \"dry_leaves\"\nph = 40", "40\n", "ph",
                 "12"},
        BadInput{"ChopTwice", leaves,
                 "name = \"dry_leaves\"\nchop = \"5 cm\"\nchop_size = \"40 mm\"", "\"5 cm\"",
                 "same thing", "leave one out"},
        BadInput{"MeasureIsUnit", "barrow = \"90 L\"", "barrow = \"90 L\"\nkg = \"90 L\"",
                 "\"90 L\"\n[pile]", "unit already", "another name"},
        // Weather.
        BadInput{"ElevenMonths", "[13, 11, 12,", "[13, 11,", "[13, 11,",
                 "wet_days has 11 values, but a year has 12 months", "January first"},
        BadInput{"MonthsWithoutUnit", " 65 65 65 mm\"", " 65 65 65\"", "\"60 55", "has no unit",
                 "mm"},
        BadInput{"WeatherTwice", "start =", "weather = \"w.csv\"\nstart =", "\"w.csv\"",
                 "both a weather file and monthly normals", "either"},
        // The rest.
        BadInput{"UnknownUse", "", "[use]\nfor = \"garden\"\n", "\"garden\"", "for is \"garden\"",
                 "\"garden_bed\""},
        BadInput{"OwnUseWithoutCriteria", "", "[use]\nfor = \"own\"\n", "\"own\"",
                 "has no criteria", "add criteria = ["},
        BadInput{"CriteriaOfABuiltInUse", "",
                 "[use]\nfor = \"field\"\ncriteria = \"above_air <= 10 K\"\n", "\"above_air",
                 "only a use of your own has criteria", "write for = \"own\""},
        BadInput{"NameOfABuiltInUse", "", "[use]\nfor = \"field\"\nname = \"nursery\"\n",
                 "\"nursery\"", "only a use of your own has name", "leave name out"},
        BadInput{"OwnUseCalledLikeABuiltInOne", "",
                 "[use]\nfor = \"own\"\nname = \"mulch\"\ncriteria = \"above_air <= 10 K\"\n",
                 "\"mulch\"", "\"mulch\" is the name of a built-in use", "something else"},
        BadInput{"MeasureMisspelt", "",
                 "[use]\nfor = \"own\"\ncriteria = [\"above_air <= 10 K\", \"oxigen_uptake <= 15 "
                 "mmol O2/kg/h\"]\n",
                 "\"oxigen_uptake", "did you mean \"oxygen_uptake\"?", "use one of oxygen_uptake"},
        BadInput{"MeasureTwice", "",
                 "[use]\nfor = \"own\"\ncriteria = [\"above_air <= 10 K\", \"above_air <= 8 K\"]\n",
                 "[\"above_air", "criteria name above_air twice", "lower limit"},
        BadInput{"CriterionAbove", "",
                 "[use]\nfor = \"own\"\ncriteria = \"self_heating >= 20 K\"\n", "\"self_heating",
                 "has no <=", "at or below its limit"},
        BadInput{"CriterionWithoutUnit", "",
                 "[use]\nfor = \"own\"\ncriteria = \"oxygen_uptake <= 15\"\n", "\"oxygen_uptake",
                 "\"15\" has no unit", "mmol O2/kg/h"},
        BadInput{"CriterionOfOtherKind", "",
                 "[use]\nfor = \"own\"\ncriteria = \"above_air <= 15 mmol O2/kg/h\"\n",
                 "\"above_air", "is a respiration rate, but a temperature difference is needed",
                 "8 K"},
        BadInput{"CriterionOutOfRange", "",
                 "[use]\nfor = \"own\"\ncriteria = \"carbon_nitrogen_ratio <= 2\"\n",
                 "\"carbon_nitrogen_ratio", "is outside 5 to 100", "finished compost"},
        BadInput{"CriterionIsNumber", "", "[use]\nfor = \"own\"\ncriteria = 15\n", "15",
                 "criteria is 15", "write criteria = ["},
        BadInput{"HygieneRuleMisspelt", "", "[use]\nfor = \"field\"\nhygiene = \"nop_vesel\"\n",
                 "\"nop_vesel\"", "did you mean \"nop_vessel\"?", "write one of \"none\""},
        BadInput{"ProbeWithoutDepth", "", "[[probe]]\nname = \"stick\"\n", "[[probe]]",
                 "no key \"depth\"", "depth = \"50 cm\""},
        BadInput{"LabourWithoutUnit", "", "[labour]\nfork = 2\n", "2\n", "has no unit", "m3/h"},
        BadInput{"LabourOfOtherKind", "", "[labour]\nfork = \"2 m3\"\n", "\"2 m3\"",
                 "is a volume, but", "m3/h"},
        BadInput{"LabourTooSlow", "", "[labour]\nbuild = \"0.01 m3/h\"\n", "\"0.01 m3/h\"",
                 "outside 0.05 m3/h to 1000 m3/h", "m3/h"},
        BadInput{"LoaderTooSlow", "", "[labour]\nloader = \"0.5 m3/h\"\n", "\"0.5 m3/h\"",
                 "outside 1 m3/h to 10000 m3/h", "m3/h"},
        BadInput{"WateringTooFast", "", "[labour]\nwatering = \"200 m3/h\"\n", "\"200 m3/h\"",
                 "outside 1 L/h to 100000 L/h", "L/h"},
        BadInput{"SettingUpForDays", "", "[labour]\nsetting_up = \"2 days\"\n", "\"2 days\"",
                 "outside 0 min to 24 h", "min"},
        BadInput{"LabourMisspelt", "", "[labour]\nwindrow_turnr = \"200 m3/h\"\n", "windrow_turnr",
                 "did you mean \"windrow_turner\"?", "write windrow_turner"},
        BadInput{"VariantWithoutIsTable", "", "[[variant]]\nname = \"x\"\nwithout = { a = 1 }\n",
                 "{ a = 1 }", "without is a table", "without = ["},
        BadInput{"VariantWithoutName", "", "[[variant]]\nwithout = [\"turning\"]\n", "[[variant]]",
                 "no key \"name\"", "name ="},
        BadInput{"VariantSetIsText", "", "[[variant]]\nname = \"x\"\nset = \"y\"\n", "\"y\"",
                 "variant.set is \"y\"", "[variant.set]"},
        BadInput{"VariantTwice", "",
                 "[[variant]]\nname = \"x\"\nset = {}\n[[variant]]\nname = \"x\" \nset = {}\n",
                 "\"x\" ", "two variants", "name of its own"}),
    [](const auto& test) { return std::string(test.param.name); });

TEST(PileFile, ShowsAllFaultsInTheOrderOfTheFile) {
  std::string text = edited("\"47.5 deg\"", "47.5");
  text.replace(text.find(every), every.size(), "evry = \"3 days\"");
  text.replace(text.find("\"420 kg\""), 8, "\"420 m\"");
  const std::vector<Fault> faults = faults_of(text);
  std::vector<std::string> places;
  places.reserve(faults.size());
  for (const Fault& fault : faults) {
    places.push_back(fault.where);
  }
  EXPECT_THAT(places, ElementsAre(place_of(text, "47.5"), place_of(text, "\"420 m\""),
                                  place_of(text, "[turning]"), place_of(text, "evry")));
}

TEST(PileFile, ASiteNeedsWeather) {
  std::string text = good;
  const auto begin = text.find("[site.normals]");
  text.erase(begin, text.find("[measures]") - begin);
  const auto faults = faults_of(text);
  ASSERT_EQ(faults.size(), 1U);
  EXPECT_EQ(faults[0].where, place_of(text, "[site]"));
  EXPECT_THAT(faults[0].what, HasSubstr("no weather"));
  EXPECT_THAT(faults[0].remedy, HasSubstr("[site.normals]"));
}

TEST(PileFile, MakesMessagesPrintable) {
  const auto faults = faults_of(edited("\"heap\"", "\"a\\u001b[31m\\nb\""));
  ASSERT_EQ(faults.size(), 1U);
  EXPECT_EQ(faults[0].what.find('\x1b'), std::string::npos);
  EXPECT_EQ(faults[0].what.find('\n'), std::string::npos);
}

TEST(PileFile, RefusesBrokenUtf8WithoutCrash) {
  const auto faults = faults_of(edited("Leaves and", "Leaves \xff\xfe and"));
  ASSERT_EQ(faults.size(), 1U);
  EXPECT_THAT(faults[0].what, HasSubstr("not TOML"));
}

TEST(PileFile, CutOffAnywhereIsReadOrRefused) {
  const std::string text = good;
  // Every seventh place is inside every kind of thing there is in the file.
  for (std::size_t end = 0; end < text.size(); end += 7) {
    try {
      static_cast<void>(parse_pile_file(text.substr(0, end), {}));
    } catch (const InputError& error) {
      for (const Fault& fault : error.faults()) {
        EXPECT_THAT(fault.where, HasSubstr("pile.toml")) << fault.what;
        EXPECT_FALSE(fault.what.empty());
        EXPECT_FALSE(fault.remedy.empty()) << fault.what;
      }
    }
  }
}

TEST(PileFile, ReadsAGoodFileWithDefaults) {
  const PileFile file = parse_pile_file(good, {});
  const models::PileDescription& pile = *file.pile;
  EXPECT_EQ(pile.title, "Leaves and manure");
  EXPECT_EQ(pile.text, good);
  EXPECT_EQ(pile.start, "2013-10-05T09:00"); // a date alone is at the working hour
  EXPECT_EQ(pile.start_hour_in_weather, 9);
  EXPECT_GE(pile.weather->size(), 9U + 20U * 24U);
  EXPECT_EQ(pile.shape.kind, models::ShapeKind::heap);
  EXPECT_TRUE(std::isnan(pile.shape.height_m));
  EXPECT_TRUE(std::isnan(pile.shape.width_m));
  EXPECT_EQ(pile.ground_conductance_scale, 1.0);
  EXPECT_EQ(pile.horizon_days, 20);
  EXPECT_EQ(pile.output_hours, 1);
  EXPECT_EQ(pile.field_output_hours, 24);
  EXPECT_EQ(pile.resolution, models::Resolution::standard);
  ASSERT_EQ(pile.ingredients.size(), 2U);
  // 12 barrows of 90 L.
  EXPECT_DOUBLE_EQ(pile.ingredients[0].wet_mass_kg,
                   1.08 * pile.ingredients[0].material.bulk_density_wet_kg_m3);
  EXPECT_EQ(pile.ingredients[1].wet_mass_kg, 420);
  ASSERT_TRUE(pile.turning);
  EXPECT_EQ(pile.turning->schedule.every_days, 3);
  EXPECT_EQ(pile.turning->schedule.gap_days, 1);
  EXPECT_FALSE(pile.watering);
  EXPECT_THAT(file.notes, IsEmpty());
}

TEST(PileFile, ReadsHowFastTheWorkGoes) {
  const models::LabourRates usual; // common practice, no source
  const models::LabourRates left_out = parsed(good).labour;
  EXPECT_DOUBLE_EQ(left_out.build_m3_h, usual.build_m3_h);
  EXPECT_DOUBLE_EQ(left_out.fork_m3_h, usual.fork_m3_h);
  EXPECT_DOUBLE_EQ(left_out.loader_m3_h, usual.loader_m3_h);
  EXPECT_DOUBLE_EQ(left_out.windrow_turner_m3_h, usual.windrow_turner_m3_h);
  EXPECT_DOUBLE_EQ(left_out.watering_L_h, usual.watering_L_h);
  EXPECT_DOUBLE_EQ(left_out.setting_up_h, usual.setting_up_h);
  const models::LabourRates given = parsed(edited("", R"([labour]
build = "3 m3/h"
fork = "20 L/min"
loader = "60 m3/h"
watering = "0.9 m3/h"
setting_up = "30 min"
)"))
                                        .labour;
  EXPECT_DOUBLE_EQ(given.build_m3_h, 3.0);
  EXPECT_DOUBLE_EQ(given.fork_m3_h, 1.2); // 20 L/min is 1200 L/h
  EXPECT_DOUBLE_EQ(given.loader_m3_h, 60.0);
  EXPECT_DOUBLE_EQ(given.windrow_turner_m3_h, usual.windrow_turner_m3_h);
  EXPECT_DOUBLE_EQ(given.watering_L_h, 900.0);
  EXPECT_DOUBLE_EQ(given.setting_up_h, 0.5);
}

TEST(PileFile, ReadsEveryWayToSayWhen) {
  const auto pile = parsed(edited(every, R"(every = "2 days"
from = "1 week"
until = "2013-10-20"
on = [3, "5 days", "2013-10-08", 2013-10-17]
when = ["core_temperature < 50 degC after > 55 degC", "moisture below 45 %", "core_oxygen < 5 %"]
at_most = 9
gap = "36 h"
not_in_frost = true
weekdays = ["sun", "Saturday"])"));
  const models::Schedule& schedule = pile.turning->schedule;
  EXPECT_EQ(schedule.every_days, 2);
  EXPECT_EQ(schedule.from_day, 7);
  EXPECT_EQ(schedule.until_day, 15);
  EXPECT_THAT(schedule.on_days, ElementsAre(3, 3, 5, 12));
  ASSERT_EQ(schedule.when.size(), 3U);
  EXPECT_TRUE(schedule.when[0].below);
  EXPECT_DOUBLE_EQ(schedule.when[0].threshold, 323.15);
  EXPECT_DOUBLE_EQ(schedule.when[0].armed_beyond, 328.15);
  EXPECT_EQ(schedule.when[1].quantity, models::Quantity::moisture);
  EXPECT_DOUBLE_EQ(schedule.when[1].threshold, 0.45);
  EXPECT_TRUE(std::isnan(schedule.when[1].armed_beyond));
  EXPECT_EQ(schedule.when[2].text, "core_oxygen < 5 %");
  EXPECT_EQ(schedule.at_most, 9);
  EXPECT_EQ(schedule.gap_days, 1.5);
  EXPECT_TRUE(schedule.not_in_frost);
  EXPECT_THAT(schedule.weekdays, ElementsAre(5, 6));
}

TEST(PileFile, ReadsAUseOfItsOwn) {
  const auto pile = parsed(edited("", R"([use]
for = "own"
name = "nursery"
criteria = ["oxygen_uptake <= 0.4 mg O2/g/h", "self_heating < 20 K",
            "carbon_dioxide <= 16 mg CO2/g/d", "carbon_nitrogen_ratio <= 20:1"]
hygiene = "eu1009_cmc3"
)"));
  const models::Use& use = pile.use;
  EXPECT_EQ(use.name, "nursery");
  ASSERT_EQ(use.criteria.size(), 4U);
  EXPECT_EQ(use.criteria[0].measure, models::Measure::oxygen_uptake);
  EXPECT_NEAR(use.criteria[0].limit, 0.4 / 31.998e-3, 1e-12); // mmol/kg/h; rounding
  EXPECT_EQ(use.criteria[1].measure, models::Measure::self_heating);
  EXPECT_DOUBLE_EQ(use.criteria[1].limit, 20.0);
  EXPECT_NEAR(use.criteria[2].limit, 16.0 * 12.011 / 44.009, 1e-12); // mg CO2-C/g/d
  EXPECT_DOUBLE_EQ(use.criteria[3].limit, 20.0);
  EXPECT_EQ(use.hygiene_rule, "eu1009_cmc3");
  EXPECT_FALSE(use.hygiene_if_needed);
}

TEST(PileFile, HygieneRuleFollowsTheUseAndTheKindOfPile) {
  const auto use_of = [](const std::string& text) { return parsed(text).use; };
  const std::string bed = "[use]\nfor = \"garden_bed\"\n";
  const std::string pots = "[use]\nfor = \"potting_mix\"\n";
  EXPECT_EQ(use_of(edited("", pots)).hygiene_rule, "us503_pfrp_windrow");
  EXPECT_EQ(use_of(edited("", bed)).hygiene_rule, "eu1009_cmc3");
  EXPECT_TRUE(use_of(edited("", bed)).hygiene_if_needed);
  EXPECT_EQ(use_of(edited("", "[air]\nfan = \"20 m3/h\"\n" + pots)).hygiene_rule,
            "us503_pfrp_vessel");
  EXPECT_EQ(use_of(edited("", "[use]\nfor = \"mulch\"\n")).hygiene_rule, "");
  EXPECT_EQ(use_of(edited("", "[use]\nfor = \"field\"\n")).hygiene_rule, "us503_psrp");
  EXPECT_EQ(use_of(edited("", bed + "hygiene = \"none\"\n")).hygiene_rule, "");
  // One of one's own asks what a garden bed asks.
  EXPECT_EQ(
      use_of(edited("", "[use]\nfor = \"own\"\ncriteria = \"above_air <= 10 K\"\n")).hygiene_rule,
      "eu1009_cmc3");
  EXPECT_EQ(use_of(good).name, "");
}

TEST(PileFile, ReadsTheOtherSections) {
  const PileFile file = parse_pile_file(edited("", R"(work_hour = 7
resolution = "fine"
[run.parameters]
fast_rate = 0.4
medium_rate = "0.06 1/d"
[watering]
when = "moisture < 45 %"
litres = 40
[cover]
kind = "blanket"
thickness = "15 cm"
[[cover.change]]
day = 14
kind = "tarp"
[[cover.change]]
day = 7
kind = "none"
[air]
pipes = true
fan = "20 m3/h"
on_minutes = 10
on_above = "60 degC"
[[add]]
every = "7 days"
[[add.material]]
name = "vegetable_scraps"
amount = "5 kg"
[use]
for = "garden_bed"
[[probe]]
name = "stick"
depth = "50 cm"
[[variant]]
name = "never turned"
set = { "turning.every" = "100 days" }
)"),
                                        {});
  const models::PileDescription& pile = *file.pile;
  EXPECT_EQ(pile.start, "2013-10-05T07:00");
  EXPECT_EQ(pile.work_hour, 7);
  EXPECT_EQ(pile.resolution, models::Resolution::fine);
  EXPECT_EQ(pile.parameters[models::Parameter::fast_rate], 0.4);
  EXPECT_EQ(pile.parameters[models::Parameter::medium_rate], 0.06);
  ASSERT_TRUE(pile.watering);
  EXPECT_DOUBLE_EQ(pile.watering->litres, 40);
  EXPECT_TRUE(std::isnan(pile.watering->to_moisture));
  EXPECT_EQ(pile.cover.kind, models::CoverKind::blanket);
  EXPECT_DOUBLE_EQ(pile.cover.thickness_m, 0.15);
  EXPECT_DOUBLE_EQ(pile.cover.conductivity_W_mK, 0.1);
  ASSERT_EQ(pile.cover_changes.size(), 2U);
  EXPECT_EQ(pile.cover_changes[0].day, 7); // sorted by day
  EXPECT_EQ(pile.cover_changes[1].cover.kind, models::CoverKind::tarp);
  EXPECT_TRUE(pile.aeration.pipes);
  EXPECT_DOUBLE_EQ(pile.aeration.fan_m3_h, 20);
  EXPECT_DOUBLE_EQ(pile.aeration.on_minutes_h, 10);
  EXPECT_DOUBLE_EQ(pile.aeration.on_above_K, 333.15);
  ASSERT_EQ(pile.additions.size(), 1U);
  ASSERT_EQ(pile.additions[0].ingredients.size(), 1U);
  EXPECT_EQ(pile.additions[0].ingredients[0].wet_mass_kg, 5);
  EXPECT_EQ(file.pile->use.name, "garden_bed");
  ASSERT_EQ(file.pile->probes.size(), 1U);
  EXPECT_EQ(file.pile->probes[0].depth_m, 0.5);
  EXPECT_THAT(file.variants, ElementsAre("never turned"));
}

TEST(PileFile, TakesLaboratoryValuesAndAge) {
  const auto as_library = parsed(good).ingredients[1];
  const auto fresh =
      parsed(edited("amount = \"420 kg\"",
                    "amount = \"420 kg\"\nmoisture = \"70 %\"\nnitrogen = \"3 % dry\""))
          .ingredients[1];
  EXPECT_DOUBLE_EQ(fresh.material.moisture_wet_basis, 0.70);
  EXPECT_DOUBLE_EQ(fresh.material.nitrogen_dry_basis, 0.03);
  EXPECT_NE(as_library.material.nitrogen_dry_basis, 0.03);
  const auto aged =
      parsed(edited("amount = \"420 kg\"",
                    "amount = \"420 kg\"\nmoisture = \"70 %\"\nnitrogen = \"3 % dry\"\n"
                    "age = \"3 weeks\""))
          .ingredients[1];
  // Waiting takes nitrogen and water; the amount is that of what goes in.
  EXPECT_LT(aged.material.moisture_wet_basis, 0.70);
  EXPECT_LT(aged.material.nitrogen_dry_basis * (1 - aged.material.moisture_wet_basis),
            0.03 * (1 - 0.0));
  EXPECT_EQ(aged.wet_mass_kg, 420);
}

TEST(PileFile, TakesAMaterialGivenInFull) {
  const auto pile = parsed(edited(leaves, R"(name = "olive pulp"
moisture = "55 %"
volatile_solids = "92 % dry"
nitrogen = "1.2 % dry"
carbon_to_nitrogen = 40
lignin = "20 % of VS"
bulk_density = "500 kg/m3"
water_holding = "2 kg/kg"
flow_size = "0.8 mm"
chop_size = "2 mm")"));
  const models::Material& material = pile.ingredients[0].material;
  EXPECT_EQ(material.name, "olive pulp");
  EXPECT_DOUBLE_EQ(material.carbon_dry_basis, 40 * 0.012);
}

TEST(PileFile, NamesWhatAMaterialGivenInFullLacks) {
  const auto faults = faults_of(edited(leaves, "name = \"olive pulp\"\nmoisture = \"55 %\""));
  ASSERT_GE(faults.size(), 5U);
  for (const Fault& fault : faults) {
    EXPECT_THAT(fault.what, HasSubstr("olive pulp"));
  }
}

TEST(PileFile, LayersFollowTheFileWithoutNumbers) {
  const auto pile = parsed(edited(heap, "shape = \"heap\"\nlayered = true"));
  EXPECT_TRUE(pile.layered);
  EXPECT_EQ(pile.ingredients[0].layer, 0);
  EXPECT_EQ(pile.ingredients[1].layer, 1);
}

TEST(PileFile, LeavesOneDimensionToTheMaterials) {
  const auto free = parsed(edited(heap, "shape = \"windrow\"\nheight = \"1 m\"\nwidth = \"2 m\""));
  EXPECT_EQ(free.shape.height_m, 1);
  EXPECT_EQ(free.shape.width_m, 2);
  EXPECT_TRUE(std::isnan(free.shape.length_m));

  const double volume_m3 = heapcast::models::ingredients_volume_m3(free);
  // Parabolic: 2/3 of 1 m times 2 m; 4 % longer than the materials reach is within the 5 %.
  const double length_m = 1.04 * volume_m3 / (2.0 / 3.0 * 2.0);
  const auto full = parsed(edited(
      heap, fmt::format("shape = \"windrow\"\nheight = \"1 m\"\nwidth = \"2 m\"\nlength = \"{} m\"",
                        length_m)));
  EXPECT_EQ(full.shape.width_m, 2);
  EXPECT_TRUE(std::isnan(full.shape.length_m));
}

TEST(PileFile, KeepsABinsHeightAndSaysHowFarItIsFilled) {
  const PileFile file = parse_pile_file(
      edited(heap, "shape = \"bin\"\nheight = \"3 m\"\nwidth = \"2 m\"\nlength = \"2 m\""), {});
  EXPECT_EQ(file.pile->shape.height_m, 3); // where a bin that is fed on is full
  ASSERT_EQ(file.notes.size(), 1U);
  EXPECT_THAT(file.notes[0].what, HasSubstr("of the bin's 12 m3"));
}

TEST(PileFile, NotesWhatIsLegalButUnlikely) {
  const auto note_of = [](const std::string& text) {
    std::string notes;
    const PileFile file = parse_pile_file(text, {});
    for (const Fault& note : file.notes) {
      notes += note.where + ": " + note.what + "\n";
    }
    for (const Unlikely& one : file.unlikely) {
      notes += one.what + "\n";
    }
    return notes;
  };
  EXPECT_THAT(note_of(edited(every, "on = [3, 90]")),
              HasSubstr("day 90 comes after the end: the forecast ends on day 20"));
  EXPECT_THAT(note_of(edited(every, "when = \"core_temperature < 50 degC\"")),
              HasSubstr("holds before the pile has become hot"));
  EXPECT_THAT(note_of(edited("\"cattle_manure\"", "\"sawdust\"")), HasSubstr("C:N"));
  std::string small = edited("\"12 barrows\"", "\"1 barrow\"");
  small.replace(small.find("\"420 kg\""), 8, "\"12 kg\"");
  EXPECT_THAT(note_of(small), HasSubstr("the materials fill only"));
}

TEST(PileFile, TheSeedOptionTakesThePlaceOfTheFiles) {
  PileFileOptions options;
  options.seed = 7;
  const PileFile seven = parse_pile_file(good, options);
  EXPECT_EQ(seven.seed, 7U);
  EXPECT_NE(seven.pile->weather->checksum, parse_pile_file(good, {}).pile->weather->checksum);
}

TEST(PileFile, NormalsGiveEveryRunAYearOfItsOwn) {
  const PileFile file = parse_pile_file(good, {});
  ASSERT_TRUE(file.year);
  const models::WeatherYear first = file.year(0);
  EXPECT_EQ(first.weather->checksum, file.year(0).weather->checksum);
  EXPECT_NE(first.weather->checksum, file.year(1).weather->checksum);
  EXPECT_NE(first.weather->checksum, file.pile->weather->checksum);
  EXPECT_EQ(first.start, file.pile->start);
  EXPECT_EQ(first.weather->size(), file.pile->weather->size());
  EXPECT_EQ(first.start_hour_in_weather, file.pile->start_hour_in_weather);
  PileFileOptions other;
  other.seed = 7;
  EXPECT_NE(first.weather->checksum, parse_pile_file(good, other).year(0).weather->checksum);
}

TEST(PileFile, RunsUseTheYearsThatTheWeatherFileCoversToTheHorizon) {
  const std::string example = HEAPCAST_EXAMPLES_DIR "/01_market_garden_windrow/pile.toml";
  const auto starts = [&](const std::vector<std::string>& overrides) {
    std::vector<std::string> found;
    for (const models::WeatherYear& year :
         models::weather_years(*read_pile_file(example, overrides).pile)) {
      found.push_back(year.start);
    }
    return found;
  };
  // The file has 2012 to 2015.
  EXPECT_THAT(starts({}), testing::ElementsAre("2012-09-14T09:00", "2013-09-14T09:00",
                                               "2014-09-14T09:00", "2015-09-14T09:00"));
  // 100 days from 1 December end in the next year, of which there is none after 2015.
  EXPECT_THAT(starts({"site.start=\"2013-12-01\""}),
              testing::ElementsAre("2012-12-01T09:00", "2013-12-01T09:00", "2014-12-01T09:00"));
}

TEST(PileFile, RunsKeepToTheYearOfTheStartWhenTheFileSaysSo) {
  EXPECT_TRUE(parse_pile_file(good, {}).pile->all_weather_years);
  PileFileOptions options;
  options.overrides = {"run.weather_years=\"start\""};
  const PileFile file = parse_pile_file(good, options);
  EXPECT_FALSE(file.pile->all_weather_years);
  EXPECT_FALSE(file.year);
}

class PileFileWeather : public testing::Test {
protected:
  void SetUp() override {
    folder_ = std::filesystem::temp_directory_path() / fmt::format("heapcast-pile-{}", ::getpid());
    std::filesystem::create_directories(folder_);
    options_.folder = folder_.string();
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  /// Daily weather of `days` days from 1 October 2013.
  void write_weather(int days,
                     const std::string& header = "date,tmin [degC],tmax [degC],rain [mm]") {
    std::ofstream out(folder_ / "weather.csv");
    out << header << '\n';
    for (int i = 0; i < days; ++i) {
      out << fmt::format("2013-{:02}-{:02},5,15,0.5\n", 10 + i / 31, 1 + i % 31);
    }
  }

  static std::string with_file(std::string_view more = "") {
    std::string text = good;
    const auto begin = text.find("[site.normals]");
    const auto end = text.find("[measures]");
    return text.replace(begin, end - begin, fmt::format("weather = \"weather.csv\"\n{}", more));
  }

  std::filesystem::path folder_;
  PileFileOptions options_;
};

TEST_F(PileFileWeather, IsReadRelativeToThePileFile) {
  write_weather(40);
  const auto pile = parsed(with_file(), options_);
  EXPECT_EQ(pile.start_hour_in_weather, 4 * 24 + 9);
}

TEST_F(PileFileWeather, MustReachFromTheBuildToTheHorizon) {
  write_weather(20); // to 20 October; the pile needs it to 25 October
  const auto faults = faults_of(with_file(), options_);
  ASSERT_EQ(faults.size(), 1U);
  EXPECT_THAT(faults[0].where, HasSubstr("weather.csv"));
  EXPECT_THAT(faults[0].what, HasSubstr("2013-10-25"));
}

TEST_F(PileFileWeather, MapsForeignColumns) {
  write_weather(40, "date,MinT,MaxT [degC],Regen");
  const auto pile = parsed(with_file("[site.weather_columns]\ntmin = \"MinT [degC]\"\ntmax = "
                                     "\"MaxT\"\nrain = \"Regen [mm]\"\n"),
                           options_);
  EXPECT_GT(pile.weather->size(), 20U * 24U);
}

TEST_F(PileFileWeather, FileThatIsNotThereIsAFileErrorAtItsKey) {
  const std::string text = with_file();
  try {
    static_cast<void>(parse_pile_file(text, options_));
    FAIL() << "nothing was thrown";
  } catch (const FileError& error) {
    EXPECT_THAT(error.what(), HasSubstr(place_of(text, "\"weather.csv\"")));
    EXPECT_THAT(error.what(), HasSubstr("No such file"));
  }
}

TEST_F(PileFileWeather, OtherFaultsComeBeforeAFileThatIsNotThere) {
  std::string text = with_file();
  text.replace(text.find("\"heap\""), 6, "\"hep\"");
  EXPECT_EQ(faults_of(text, options_).size(), 1U);
}

TEST(Overrides, ReplaceValuesBeforeTheFileIsRead) {
  PileFileOptions options;
  options.overrides = {"run.days=9",        "material.1.amount=300 kg",     "pile.height=\"80 cm\"",
                       "turning.on=[2, 4]", "run.parameters.fast_rate=0.4", "pile.layered = true"};
  const auto pile = parsed(good, options);
  EXPECT_EQ(pile.horizon_days, 9);
  EXPECT_EQ(pile.ingredients[1].wet_mass_kg, 300);
  EXPECT_EQ(pile.shape.height_m, 0.8);
  EXPECT_THAT(pile.turning->schedule.on_days, ElementsAre(2, 4));
  EXPECT_EQ(pile.parameters[models::Parameter::fast_rate], 0.4);
  EXPECT_TRUE(pile.layered);
  EXPECT_EQ(pile.text, good); // the file as read
}

TEST(Overrides, FaultsNameTheOption) {
  struct Row {
    std::string option, where, what;
  };
  for (const Row& row : std::vector<Row>{
           {"pile.height=1.2", "--set pile.height=1.2", "has no unit"},
           {"pile.height=40 m", "--set pile.height=40 m", "outside 5 cm to 10 m"},
           {"pile.hight=1 m", "--set pile.hight=1 m", "did you mean \"height\"?"},
           {"material.0.moisture=200 %", "--set material.0.moisture=200 %", "moisture"},
           {"material.7.amount=3 kg", "--set material.7.amount=3 kg", "has 2 elements"},
           {"material.first.amount=3 kg", "--set material.first.amount=3 kg", "has 2 elements"},
           {"pile.shape.x=1", "--set pile.shape.x=1", "pile.shape is a value"},
           {"pile.height", "--set pile.height", "no ="},
           {"=3", "--set =3", "empty key"},
           {"pile..height=3 m", "--set pile..height=3 m", "empty key"},
           {"run.days=", "--set run.days=", "no value"},
       }) {
    PileFileOptions options;
    options.overrides = {row.option};
    const auto faults = faults_of(good, options);
    ASSERT_EQ(faults.size(), 1U) << row.option;
    EXPECT_EQ(faults[0].where, row.where);
    EXPECT_THAT(faults[0].what, HasSubstr(row.what)) << row.option;
    EXPECT_FALSE(faults[0].remedy.empty()) << row.option;
  }
}

TEST(Overrides, TextWithQuotesAndBackslashesStaysText) {
  PileFileOptions options;
  options.overrides = {R"(title=a "b" \n c)"};
  EXPECT_EQ(parsed(good, options).title, R"(a "b" \n c)");
}

TEST(EnclosedVolume, IsThatOfTheSolid) {
  models::Shape shape;
  shape.height_m = 3;
  shape.width_m = 4;
  shape.length_m = 5;
  shape.top_width_m = 2;
  shape.kind = models::ShapeKind::windrow;
  shape.profile = models::Profile::parabolic;
  EXPECT_DOUBLE_EQ(enclosed_volume_m3(shape), 3 * 4 * 5 * 2.0 / 3.0);
  shape.profile = models::Profile::triangular;
  EXPECT_DOUBLE_EQ(enclosed_volume_m3(shape), 3 * 4 * 5 / 2.0);
  shape.profile = models::Profile::trapezoidal;
  EXPECT_DOUBLE_EQ(enclosed_volume_m3(shape), (4 + 2) / 2.0 * 3 * 5);
  shape.kind = models::ShapeKind::heap;
  shape.profile = models::Profile::triangular;
  EXPECT_NEAR(enclosed_volume_m3(shape), 3.14159265 * 2 * 2 * 3 / 3, 1e-6); // cone
  shape.profile = models::Profile::parabolic;
  EXPECT_NEAR(enclosed_volume_m3(shape), 3.14159265 * 2 * 2 * 3 / 2, 1e-6); // paraboloid
  shape.kind = models::ShapeKind::bin;
  EXPECT_DOUBLE_EQ(enclosed_volume_m3(shape), 3 * 4 * 5);
  shape.round = true;
  EXPECT_NEAR(enclosed_volume_m3(shape), 3.14159265 * 2 * 2 * 3, 1e-6);
}

// ---- a material file beside the pile file

TEST(PileFileMaterialFile, IsReadFromTheFolderOfThePileFile) {
  const TemporaryFolder folder;
  std::ofstream(folder.file("mine.toml"))
      << "name = \"mine\"\nlike = \"dry_leaves\"\nnitrogen = \"1.7 % dry\"\n";
  const std::string text = edited(leaves, "name = \"mine\"\nfile = \"mine.toml\"");
  PileFileOptions options;
  options.folder = folder.file("");
  const models::Material own = parsed(text, options).ingredients.front().material;
  EXPECT_EQ(own.name, "mine");
  EXPECT_NEAR(own.nitrogen_dry_basis, 0.017, 1e-12);
  // A value in the pile file comes before that of the material file.
  const std::string more =
      edited(leaves, "name = \"mine\"\nfile = \"mine.toml\"\nnitrogen = \"2 % dry\"");
  EXPECT_NEAR(parsed(more, options).ingredients.front().material.nitrogen_dry_basis, 0.02, 1e-12);
}

TEST(PileFileMaterialFile, TellsFaultsOfBothFiles) {
  const TemporaryFolder folder;
  std::ofstream(folder.file("mine.toml"))
      << "name = \"mine\"\nlike = \"dry_leaves\"\nnitrogen = \"1.7 %\"\n";
  PileFileOptions options;
  options.folder = folder.file("");
  auto faults = faults_of(edited(leaves, "name = \"mine\"\nfile = \"mine.toml\""), options);
  ASSERT_EQ(faults.size(), 1U);
  EXPECT_THAT(faults[0].where, HasSubstr("mine.toml:3:12"));
  std::ofstream(folder.file("mine.toml")) << "name = \"mine\"\nlike = \"dry_leaves\"\n";
  faults = faults_of(edited(leaves, "name = \"yours\"\nfile = \"mine.toml\""), options);
  ASSERT_EQ(faults.size(), 1U);
  EXPECT_THAT(faults[0].what, HasSubstr("mine.toml holds \"mine\", not \"yours\""));
  EXPECT_THROW(
      (void)parse_pile_file(edited(leaves, "name = \"mine\"\nfile = \"none.toml\""), options),
      FileError);
}

} // namespace
} // namespace heapcast::cli
