// An invented pile and studies of it that take a second.
#pragma once

#include "tests/cli/program.hpp"
#include "tests/cli/sample_text.hpp"

#include <fstream>
#include <string>

namespace heapcast::tests {

inline const std::string small_pile = invented_site("An invented heap") + R"([pile]
shape = "heap"
[[material]]
name = "horse_manure_bedding"
amount = "800 kg"
[[material]]
name = "wheat_straw"
amount = "20 kg"
chop = "5 cm"
[turning]
method = "fork"
every = "2 days"
[run]
days = 3
resolution = "coarse"
)";

inline const std::string small_study = R"toml(title = "A small study (invented)"
pile = "pile.toml"
[design]
kind = "latin_hypercube"
points = 24
seed = 3
weather_years = 2
constraints = ["straw < 390"]
[[factor]]
key = "turning.every"
values = ["1 day", "2 days"]
[[factor]]
key = "material.1.amount"
name = "straw"
from = "20 kg"
to = "400 kg"
scale = "log"
[[factor]]
key = "fast_rate"
prior = true
[output]
daily = ["core_temperature"]
fields = ["temperature"]
)toml";

/// A folder with a pile and a study in it.
class StudyProgram : public Program {
protected:
  StudyProgram() {
    put("pile.toml", small_pile);
    put("study.toml", small_study);
  }
  void put(const std::string& name, const std::string& text) const {
    std::ofstream(folder_ / name) << text;
  }
  [[nodiscard]] std::string study() const { return folder_ / "study.toml"; }
  /// Bytes of the study's results, made in one go.
  [[nodiscard]] std::string undisturbed() const {
    EXPECT_EQ(run({"sweep", study(), "--quiet", "-o", folder_ / "whole.h5"}), 0) << err();
    return bytes_of_file(folder_ / "whole.h5");
  }
};

} // namespace heapcast::tests
