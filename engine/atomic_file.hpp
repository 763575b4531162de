#pragma once

#include <string>
#include <string_view>

namespace heapcast::engine {

/// Writes `contents` to `path`, all or nothing: to a temporary name in the same folder, flushed to
/// the disk, then renamed over `path`. A killed run or a full disk leaves the old file or none;
/// after a failure the temporary is gone, after a kill it may stay and is in nobody's way. A
/// symbolic link is followed. Throws FileError, also when `path` is there and is not an ordinary
/// file.
void write_file_atomically(const std::string& path, std::string_view contents);

} // namespace heapcast::engine
