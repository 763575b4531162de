# Writes the material data files into one C++ source, so that the program needs no data folder.
# Run in script mode with OUTPUT, the file to write, and FILES, the list of data files.
# Only file names without folder go into the output.
list(SORT FILES)

set(code "#include \"models/materials/library.hpp\"\n\n#include <array>\n#include <string_view>\n\n")
string(APPEND code "namespace heapcast::models {\n\nnamespace {\n\n")
string(APPEND code "using namespace std::string_view_literals; // their lengths are known\n\n")
string(APPEND code "constexpr auto files = std::to_array<EmbeddedFile>({\n")
foreach(file IN LISTS FILES)
  file(READ "${file}" text)
  get_filename_component(name "${file}" NAME)
  string(APPEND code "{\"${name}\", R\"~toml~(${text})~toml~\"sv},\n")
endforeach()
string(APPEND code "});\n\n} // namespace\n\n")
string(APPEND code "std::span<const EmbeddedFile> embedded_material_files() { return files; }\n\n")
string(APPEND code "} // namespace heapcast::models\n")

file(WRITE "${OUTPUT}" "${code}")
