// Results files and the report made from one. The input is a list of changes: half of the time of
// the bytes of a sound file, which the reader must turn down by the check sum; else of what the
// file holds, as another program might have written it, which must be read back and reported on.

#include "cli/input/pile_file.hpp"
#include "cli/output/forecast_dataset.hpp"
#include "cli/report/report.hpp"
#include "engine/errors.hpp"
#include "engine/results_file.hpp"
#include "models/forecast.hpp"
#include "tests/fuzz/fuzz.hpp"

#include <limits>
#include <stdexcept>
#include <string>

#include <fuzzer/FuzzedDataProvider.h>
#include <sys/mman.h>
#include <unistd.h>

using namespace heapcast;
using engine::Dataset;
using tests::require;

namespace {

constexpr std::string_view pile_text = R"(title = "An invented heap"
[site]
latitude = "47.5 deg"
start = "2013-10-05"
[site.normals]
tmin = "-3 -2 1 4 8 11 13 13 9 6 1 -2 degC"
tmax = "3 5 10 14 19 22 24 24 19 14 7 4 degC"
rain = "60 55 60 70 85 95 90 95 75 65 65 65 mm"
wet_days = [13, 11, 12, 12, 13, 13, 12, 12, 10, 10, 11, 13]
[pile]
shape = "one_cell"
[[material]]
name = "horse_manure_bedding"
amount = "800 kg"
[turning]
every = "1 day"
[use]
for = "garden_bed"
[run]
days = 1
output = "6 h"
pictures = "24 h"
)";

Dataset sound_results() {
  const auto pile = cli::parse_pile_file(pile_text, {}).pile;
  return cli::forecast_dataset(*pile, models::run_forecast(*pile), {});
}

/// A file in memory; one for the whole run.
class MemoryFile {
public:
  [[nodiscard]] std::string path() const { return "/proc/self/fd/" + std::to_string(descriptor_); }
  void write(const std::string& bytes) const {
    require(ftruncate(descriptor_, 0) == 0 && pwrite(descriptor_, bytes.data(), bytes.size(), 0) ==
                                                  static_cast<ssize_t>(bytes.size()),
            "memory is there");
  }

private:
  int descriptor_ = memfd_create("results", 0);
};

std::string bytes_of(const Dataset& data) {
  const std::string path = "/dev/shm/heapcast_fuzz_" + std::to_string(getpid());
  engine::write_results_file(path, data);
  std::FILE* file = std::fopen(path.c_str(), "rb");
  require(file != nullptr, "what was written is there");
  std::string bytes;
  for (int c = std::fgetc(file); c != EOF; c = std::fgetc(file)) {
    bytes += static_cast<char>(c);
  }
  std::fclose(file);
  unlink(path.c_str());
  return bytes;
}

double number(FuzzedDataProvider& input) {
  switch (input.ConsumeIntegralInRange(0, 6)) {
  case 0:
    return std::numeric_limits<double>::quiet_NaN();
  case 1:
    return std::numeric_limits<double>::infinity();
  case 2:
    return -std::numeric_limits<double>::infinity();
  case 3:
    return 0.0;
  case 4:
    return std::numeric_limits<double>::max();
  default:
    return input.ConsumeFloatingPoint<double>();
  }
}

engine::AttributeValue value(FuzzedDataProvider& input) {
  switch (input.ConsumeIntegralInRange(0, 2)) {
  case 0:
    return input.ConsumeIntegral<std::int64_t>();
  case 1:
    return number(input);
  default:
    return input.ConsumeRandomLengthString(40);
  }
}

template <class Items> std::size_t one_of(FuzzedDataProvider& input, const Items& items) {
  return input.ConsumeIntegralInRange<std::size_t>(0, items.size() - 1);
}

void change(FuzzedDataProvider& input, engine::Attributes& attributes) {
  if (attributes.empty()) {
    return;
  }
  const std::size_t i = one_of(input, attributes);
  if (input.ConsumeBool()) {
    attributes.erase(attributes.begin() + static_cast<std::ptrdiff_t>(i));
  } else {
    attributes[i].second = value(input);
  }
}

void change(FuzzedDataProvider& input, engine::Variable& variable) {
  switch (input.ConsumeIntegralInRange(0, 4)) {
  case 0:
    change(input, variable.attributes);
    break;
  case 1:
    if (!variable.values.empty()) {
      variable.values[one_of(input, variable.values)] = number(input);
    }
    break;
  case 2:
    variable.values.assign(variable.values.size(), number(input));
    break;
  case 3:
    if (!variable.texts.empty()) {
      variable.texts[one_of(input, variable.texts)] = input.ConsumeRandomLengthString(40);
    }
    break;
  default:
    variable.values.resize(input.ConsumeIntegralInRange<std::size_t>(0, 60));
  }
}

void change(FuzzedDataProvider& input, Dataset& data) {
  switch (input.ConsumeIntegralInRange(0, 5)) {
  case 0:
    change(input, data.attributes);
    break;
  case 1:
    if (!data.variables.empty()) {
      data.variables.erase(data.variables.begin() +
                           static_cast<std::ptrdiff_t>(one_of(input, data.variables)));
    }
    break;
  case 2: {
    if (!data.dimensions.empty()) {
      engine::Dimension& dimension = data.dimensions[one_of(input, data.dimensions)];
      dimension.size = input.ConsumeIntegralInRange<std::size_t>(0, 60);
      dimension.values.resize(input.ConsumeBool() ? dimension.size : 0U);
    }
    break;
  }
  case 3:
    if (!data.variables.empty()) {
      engine::Variable& variable = data.variables[one_of(input, data.variables)];
      variable.name = data.variables[one_of(input, data.variables)].name;
    }
    break;
  default:
    if (!data.variables.empty()) {
      change(input, data.variables[one_of(input, data.variables)]);
    }
  }
}

void read_other_content(FuzzedDataProvider& input, Dataset data, const MemoryFile& file) {
  while (input.remaining_bytes() > 1) {
    change(input, data);
  }
  if (input.ConsumeBool()) {
    require(!cli::html_report(data).empty(), "a report says something");
    return;
  }
  std::string bytes;
  try {
    bytes = bytes_of(data);
  } catch (const std::invalid_argument&) {
    return; // contradicts itself
  }
  file.write(bytes);
  const Dataset read = engine::read_results_file(file.path());
  require(read.variables.size() == data.variables.size(), "what was written is read");
  require(!cli::html_report(read).empty(), "a report says something");
}

void read_damaged_bytes(FuzzedDataProvider& input, const std::string& sound,
                        const MemoryFile& file) {
  std::string bytes = sound;
  if (input.ConsumeBool()) {
    bytes.resize(input.ConsumeIntegralInRange<std::size_t>(0, bytes.size()));
  }
  const bool ends_like_sound = input.ConsumeBool();
  while (input.remaining_bytes() > 0 && !bytes.empty()) {
    bytes[input.ConsumeIntegralInRange<std::size_t>(0, bytes.size() - 1)] =
        input.ConsumeIntegral<char>();
  }
  if (ends_like_sound) {
    constexpr std::size_t check_sum = 26; // the last line
    bytes += sound.substr(sound.size() - check_sum);
  }
  file.write(bytes);
  try {
    (void)engine::read_results_file(file.path());
    require(bytes == sound, "a damaged file is turned down");
  } catch (const FileError& error) {
    require(*error.what() != '\0', "a fault says what is wrong");
  }
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const Dataset sound = sound_results();
  static const std::string bytes = bytes_of(sound);
  static const MemoryFile file;
  FuzzedDataProvider input(data, size);
  if (input.ConsumeBool()) {
    read_damaged_bytes(input, bytes, file);
  } else {
    read_other_content(input, sound, file);
  }
  return 0;
}
