#include "engine/field_layout.hpp"

#include <gtest/gtest.h>

#include <array>
#include <string_view>
#include <vector>

namespace heapcast::engine {
namespace {

constexpr std::array<std::string_view, 2> integrated{"a", "b"};
constexpr std::array<std::string_view, 3> totals{"p", "q", "r"};
constexpr std::array<std::string_view, 1> held{"h"};

TEST(FieldLayout, IntegratedFieldsTotalsAndHeldFieldsFollowEachOther) {
  const FieldLayout layout(integrated, totals, held, 5);
  // a: 0..4, b: 5..9, p q r: 10 11 12, h: 13..17
  EXPECT_EQ(layout.field(0), 0U);
  EXPECT_EQ(layout.field(1), 5U);
  EXPECT_EQ(layout.total(0), 10U);
  EXPECT_EQ(layout.total(2), 12U);
  EXPECT_EQ(layout.integrated_size(), 13U);
  EXPECT_EQ(layout.field(2), 13U);
  EXPECT_EQ(layout.size(), 18U);
}

TEST(FieldLayout, EveryEntryBelongsToOneFieldOrTotal) {
  const FieldLayout layout(integrated, totals, held, 4);
  std::vector<int> owners(layout.size(), 0);
  for (std::size_t i = 0; i < layout.fields(); ++i) {
    for (std::size_t cell = 0; cell < layout.cells(); ++cell) {
      ++owners.at(layout.field(i) + cell);
    }
  }
  for (std::size_t i = 0; i < totals.size(); ++i) {
    ++owners.at(layout.total(i));
  }
  EXPECT_EQ(owners, std::vector<int>(layout.size(), 1));
}

TEST(FieldLayout, NamesRunThroughIntegratedAndHeldFields) {
  const FieldLayout layout(integrated, totals, held, 4);
  EXPECT_EQ(layout.fields(), 3U);
  EXPECT_EQ(layout.field_name(0), "a");
  EXPECT_EQ(layout.field_name(1), "b");
  EXPECT_EQ(layout.field_name(2), "h");
  EXPECT_EQ(layout.total_name(1), "q");
}

} // namespace
} // namespace heapcast::engine
