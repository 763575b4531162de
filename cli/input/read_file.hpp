#pragma once

#include <string>

namespace heapcast::cli {

/// The bytes of an ordinary file or a pipe, at most 1 GiB. Throws FileError that names the file and
/// says why it cannot be read.
[[nodiscard]] std::string read_file(const std::string& path);

} // namespace heapcast::cli
