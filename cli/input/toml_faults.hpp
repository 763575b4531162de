#pragma once

#include "cli/input/toml_location.hpp"
#include "engine/errors.hpp"

#include <string>
#include <string_view>
#include <vector>

#include <toml++/toml.h>

namespace heapcast::cli {

/// The faults of one file, gathered until all are known.
class TomlFaults {
public:
  explicit TomlFaults(std::string file) : file_(std::move(file)) {}

  /// A fault at a place of the file. Its texts are made printable.
  void add(const toml::source_region& source, std::string_view what, std::string_view remedy);

  /// A fault found elsewhere, e.g. in the weather file.
  void add(const Fault& fault);

  [[nodiscard]] bool empty() const { return faults_.empty(); }
  [[nodiscard]] const std::string& file() const { return file_; }

  /// All faults from the top of the file to its end, then the others.
  [[nodiscard]] std::vector<Fault> in_order() const;

private:
  struct Placed {
    toml::source_position position;
    Fault fault;
  };
  std::string file_;
  std::vector<Placed> faults_;
};

} // namespace heapcast::cli
