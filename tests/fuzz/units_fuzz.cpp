// Quantities with their units: the first byte chooses the dimension, the rest is the text.

#include "cli/input/units.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace heapcast::cli;
using heapcast::tests::require;

namespace {

UnitTable measures() {
  UnitTable table;
  table.add_measure("barrow", {.m3 = 0.09});
  table.add_measure("sack", {.kg = 25.0});
  return table;
}

void read_quantity(std::string_view text, Dimension dimension, const UnitTable& table) {
  try {
    const double value = parse_quantity(text, dimension, table);
    require(std::isfinite(value), "a quantity is finite");
  } catch (const UnitError& error) {
    require(*error.what() != '\0' && !error.remedy().empty(), "a fault says what to write");
  }
}

void read_amount(std::string_view text, const UnitTable& table) {
  try {
    const Amount amount = parse_amount(text, table);
    require((amount.kg >= 0.0) != (amount.m3 >= 0.0), "an amount is a mass or a volume");
  } catch (const UnitError& error) {
    require(*error.what() != '\0', "a fault says what is wrong");
  }
}

void add_measure(std::string_view name) {
  UnitTable table = measures();
  try {
    table.add_measure(name, {.kg = 1.0});
    require(table.find(name) != nullptr, "a measure that was added is found");
  } catch (const UnitError& error) {
    require(*error.what() != '\0', "a fault says what is wrong");
  }
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) {
    return 0;
  }
  static const UnitTable table = measures();
  constexpr unsigned dimensions = static_cast<unsigned>(Dimension::count);
  const std::string_view text = heapcast::tests::text_of(data + 1, size - 1);
  read_quantity(text, static_cast<Dimension>(*data % dimensions), table);
  read_amount(text, table);
  add_measure(text);
  return 0;
}
