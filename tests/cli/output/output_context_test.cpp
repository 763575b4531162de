#include "cli/output/output_context.hpp"

#include <gtest/gtest.h>

namespace heapcast::cli {
namespace {

TEST(LocalTime, CountsHoursThroughMidnightMonthsAndLeapDays) {
  EXPECT_EQ(local_time("2025-02-28T09:00", 0), "2025-02-28T09:00");
  EXPECT_EQ(local_time("2025-02-28T09:00", 15), "2025-03-01T00:00");
  EXPECT_EQ(local_time("2024-02-28T09:00", 15), "2024-02-29T00:00");
  EXPECT_EQ(local_time("2024-12-31T23:00", 1), "2025-01-01T00:00");
  EXPECT_EQ(local_time("2025-01-01T00:00", 365 * 24), "2026-01-01T00:00");
  EXPECT_EQ(local_time("2025-01-01T00:00", -1), "2024-12-31T23:00");
}

TEST(LocalTime, IsToTheNearestMinute) {
  EXPECT_EQ(local_time("2025-01-01T00:30", 0.25), "2025-01-01T00:45");
  EXPECT_EQ(local_time("2025-01-01T00:00", 0.999 / 60), "2025-01-01T00:01");
}

TEST(MaterialFilesText, HasEachFileBelowItsName) {
  EXPECT_EQ(material_files_text({}), "");
  EXPECT_EQ(material_files_text({{"b.toml", "name = \"b\"\n"}, {"own/a.toml", "name = \"a\""}}),
            "# file = \"b.toml\"\nname = \"b\"\n\n# file = \"own/a.toml\"\nname = \"a\"");
}

TEST(ResolutionName, IsTheWordOfTheOption) {
  EXPECT_EQ(resolution_name(models::Resolution::coarse), "coarse");
  EXPECT_EQ(resolution_name(models::Resolution::standard), "standard");
  EXPECT_EQ(resolution_name(models::Resolution::fine), "fine");
}

} // namespace
} // namespace heapcast::cli
