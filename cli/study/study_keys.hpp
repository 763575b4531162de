#pragma once

#include "cli/input/pile_keys.hpp"

#include <span>

namespace heapcast::cli {

/// Every key of a study file, as `pile_keys()` is of the pile file.
[[nodiscard]] std::span<const Key> study_keys();

} // namespace heapcast::cli
