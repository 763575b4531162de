#include "cli/input/read_file.hpp"

#include "cli/input/toml_location.hpp"
#include "engine/errors.hpp"

#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <memory>

#include <fmt/format.h>

namespace heapcast::cli {

std::string read_file(const std::string& path) {
  // Far above any weather file; below what would exhaust a small machine.
  constexpr std::size_t most_bytes = std::size_t{1} << 30U;
  const auto fail = [&path](int error) {
    return FileError(fmt::format(
        "{}: cannot be read: {} - {}", printable(path), std::strerror(error),
        error == EISDIR ? "give the name of a file" : "check the name and that you may read it"));
  };
  const std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(std::fopen(path.c_str(), "rb"),
                                                             &std::fclose);
  if (!file) {
    throw fail(errno);
  }
  std::string text;
  std::array<char, 65536> buffer;
  while (true) {
    const std::size_t got = std::fread(buffer.data(), 1, buffer.size(), file.get());
    text.append(buffer.data(), got);
    if (text.size() > most_bytes) {
      throw FileError(
          fmt::format("{}: is larger than 1 GiB - leave out what is not needed", printable(path)));
    }
    if (got < buffer.size()) {
      if (std::ferror(file.get()) != 0) {
        throw fail(errno);
      }
      return text;
    }
  }
}

} // namespace heapcast::cli
