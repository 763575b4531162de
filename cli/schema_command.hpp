#pragma once

#include <ostream>
#include <string_view>

namespace heapcast::cli {

/// `heapcast schema [pile|study]`: writes the JSON Schema of pile files or of studies, for editors.
/// Returns 0. Throws InputError (exit code 2) for another kind of file.
int schema_command(std::ostream& out, std::string_view kind);

} // namespace heapcast::cli
