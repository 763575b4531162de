#include "cli/schema_command.hpp"

#include "cli/input/key_schema.hpp"
#include "cli/study/study_keys.hpp"
#include "engine/errors.hpp"

#include <fmt/format.h>

namespace heapcast::cli {

int schema_command(std::ostream& out, std::string_view kind) {
  if (kind != "pile" && kind != "study") {
    throw InputError("schema", fmt::format("there is no schema of \"{}\"", kind),
                     "write heapcast schema pile, or heapcast schema study");
  }
  const KeyedFile file = kind == "pile" ? KeyedFile{"Heapcast pile file", pile_keys(), pile_rules()}
                                        : KeyedFile{"Heapcast study file", study_keys(), {}};
  out << key_schema(file).dump(1) << '\n';
  return 0;
}

} // namespace heapcast::cli
