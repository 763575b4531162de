#include "models/materials/library.hpp"

#include "engine/errors.hpp"

#include <string>
#include <utility>
#include <vector>

#include <gtest/gtest.h>

namespace heapcast::models {
namespace {

MaterialRecord record(std::string name, std::string title, std::vector<std::string> words) {
  MaterialRecord made;
  made.material.name = std::move(name);
  made.material.title = std::move(title);
  made.material.group = "brown";
  made.material.words = std::move(words);
  return made;
}

MaterialLibrary small_library() {
  return MaterialLibrary({record("wheat_straw", "Wheat straw", {"Bedding"}),
                          record("corn_cobs", "Corn cobs", {"maize cobs"})});
}

std::vector<std::string> names(const std::vector<const MaterialRecord*>& records) {
  std::vector<std::string> out;
  out.reserve(records.size());
  for (const MaterialRecord* found : records) {
    out.push_back(found->material.name);
  }
  return out;
}

TEST(MaterialLibrary, FindsByExactName) {
  const MaterialLibrary library = small_library();
  ASSERT_NE(library.find("corn_cobs"), nullptr);
  EXPECT_EQ(library.find("corn_cobs")->material.title, "Corn cobs");
  EXPECT_EQ(library.find("corn"), nullptr);
}

TEST(MaterialLibrary, SearchesNameTitleGroupAndWordsInAnyCase) {
  using Names = std::vector<std::string>;
  const MaterialLibrary library = small_library();
  EXPECT_EQ(names(library.search("STRAW")), Names{"wheat_straw"});
  EXPECT_EQ(names(library.search("bedding")), Names{"wheat_straw"});
  EXPECT_EQ(names(library.search("maize_cobs")), Names{"corn_cobs"});
  EXPECT_EQ(names(library.search("corn cobs")), Names{"corn_cobs"});
  EXPECT_EQ(names(library.search("brown")), (Names{"corn_cobs", "wheat_straw"}));
  EXPECT_EQ(names(library.search("")), (Names{"corn_cobs", "wheat_straw"}));
  EXPECT_EQ(names(library.search("slurry")), Names{});
}

TEST(MaterialLibrary, SearchWantsAllWordsAtTheBeginningOfWords) {
  using Names = std::vector<std::string>;
  const MaterialLibrary library =
      MaterialLibrary({record("food_scraps", "Food scraps", {"kitchen waste"}),
                       record("litter", "Poultry litter", {"hen manure"}),
                       record("rice_straw", "Rice straw", {"paddy"})});
  EXPECT_EQ(names(library.search("hen")), Names{"litter"});
  EXPECT_EQ(names(library.search("straw rice")), Names{"rice_straw"});
  EXPECT_EQ(names(library.search("manure rice")), Names{});
  EXPECT_EQ(names(library.search("tchen")), Names{"food_scraps"}); // nothing begins so
}

TEST(MaterialLibrary, IsInOrderOfName) {
  EXPECT_EQ(small_library().names(), (std::vector<std::string>{"corn_cobs", "wheat_straw"}));
}

TEST(MaterialLibrary, RefusesOneNameTwice) {
  EXPECT_THROW(MaterialLibrary({record("hay", "Hay", {}), record("hay", "More hay", {})}),
               InputError);
}

TEST(EmbeddedMaterialFiles, HoldTheLibraryWithoutFolders) {
  EXPECT_GE(embedded_material_files().size(), 80U);
  for (const EmbeddedFile& file : embedded_material_files()) {
    EXPECT_TRUE(file.name.ends_with(".toml")) << file.name;
    EXPECT_EQ(file.name.find('/'), std::string_view::npos) << file.name;
    EXPECT_FALSE(file.text.empty()) << file.name;
  }
}

} // namespace
} // namespace heapcast::models
