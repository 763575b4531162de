#include "cli/report/cautions.hpp"

#include <gtest/gtest.h>

namespace heapcast::cli {
namespace {

TEST(CautionVariables, ReadBackAsWritten) {
  models::CautionFigures figures;
  figures.turns = 3;
  figures.core_at_turn_degC = 61.0;
  const std::vector<models::Caution> written = models::cautions(figures);
  engine::Dataset data;
  add_cautions(data, written);
  const std::vector<models::Caution> read = cautions(ResultsReader(data));
  ASSERT_EQ(read.size(), written.size());
  for (std::size_t i = 0; i < read.size(); ++i) {
    EXPECT_EQ(read[i].title, written[i].title);
    EXPECT_EQ(read[i].finding, written[i].finding);
    EXPECT_EQ(read[i].brief, written[i].brief);
    EXPECT_EQ(read[i].advice, written[i].advice);
    EXPECT_EQ(read[i].applies, written[i].applies);
  }
}

TEST(CautionVariables, AFileWithoutThemHasNone) {
  EXPECT_TRUE(cautions(ResultsReader(engine::Dataset())).empty());
}

} // namespace
} // namespace heapcast::cli
