#pragma once

#include "engine/errors.hpp"

#include <string>
#include <string_view>
#include <vector>

#include <toml++/toml.h>

namespace heapcast::cli {

/// What the faults of a value set by an option have for a file name, e.g. `--set run.days=30`.
inline constexpr std::string_view option_prefix = "--set ";

/// "pile.toml:12:8", or the option that set the value, or the file's name alone when the place is
/// not known.
[[nodiscard]] std::string place(const toml::source_region& source, const std::string& file);

/// `text` for a message or a terminal: control characters as spaces, at most `limit` bytes with
/// "..." in place of what is left out.
[[nodiscard]] std::string printable(std::string_view text, std::size_t limit = 300);

/// The faults of one file, gathered until all are known.
class TomlFaults {
public:
  explicit TomlFaults(std::string file) : file_(std::move(file)) {}

  /// A fault at a place of the file. Its texts are made printable.
  void add(const toml::source_region& source, std::string_view what, std::string_view remedy);

  /// A fault found elsewhere, e.g. in the weather file.
  void add(Fault fault) { faults_.push_back({{}, std::move(fault)}); }

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
