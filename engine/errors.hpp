#pragma once

#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace heapcast {

/// One fault: where it is, what is wrong (with value and unit), what to do.
struct Fault {
  std::string where;  ///< "input.toml:12:8" or "input.csv:40"
  std::string what;   ///< what is wrong, with the value as written and what is allowed
  std::string remedy; ///< what to write instead
};

/// Something the user can mend; all faults of one file together. Exit code 2.
class InputError : public std::runtime_error {
public:
  explicit InputError(std::vector<Fault> faults)
      : std::runtime_error(join(faults)), faults_(std::move(faults)) {}
  InputError(std::string where, std::string what, std::string remedy = {})
      : InputError(std::vector<Fault>{{std::move(where), std::move(what), std::move(remedy)}}) {}
  [[nodiscard]] const std::vector<Fault>& faults() const { return faults_; }

private:
  static std::string join(const std::vector<Fault>& faults) {
    std::string text;
    for (const auto& fault : faults) {
      if (!text.empty()) {
        text += '\n';
      }
      text += fault.where + ": " + fault.what;
      if (!fault.remedy.empty()) {
        text += " - " + fault.remedy;
      }
    }
    return text;
  }
  std::vector<Fault> faults_;
};

/// The numerics failed. Exit code 3.
class NumericsError : public std::runtime_error {
public:
  using std::runtime_error::runtime_error;
};

/// A file could not be read or written. Exit code 4.
class FileError : public std::runtime_error {
public:
  using std::runtime_error::runtime_error;
};

} // namespace heapcast
