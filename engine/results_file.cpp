#include "engine/results_file.hpp"

#include "engine/atomic_file.hpp"
#include "engine/checksum.hpp"
#include "engine/errors.hpp"

#include <fmt/format.h>
#define H5_USE_110_API // also when built against a later HDF5
#include <hdf5.h>
#include <hdf5_hl.h>

#include <algorithm>
#include <array>
#include <bit>
#include <cerrno>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <functional>
#include <limits>
#include <map>
#include <mutex>
#include <numeric>
#include <optional>
#include <set>
#include <sstream>
#include <string_view>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

// The HDF5 file is put together in memory and written in one go, and read the same way round: every
// fault of the disk is met by plain POSIX calls. HDF5 1.10 crashes on some damaged files and never
// sees one: behind the HDF5 data stands a check sum of it, without which no file is read. A file
// that is too large for memory is written by HDF5 itself, under its temporary name, and read for
// its check sum before anything else. (HDF5 ignores what follows its end-of-file address, and a
// program that changes the file cuts it off.)

namespace heapcast::engine {
namespace {

using Extents = std::vector<hsize_t>;

constexpr const char* no_coordinate_text = "This is a netCDF dimension but not a netCDF variable.";
constexpr std::string_view checksum_mark = "\nfnv1a64 ";
constexpr std::size_t checksum_length = checksum_mark.size() + 17; // 16 hexadecimal digits, newline
constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr std::int8_t missing_flag = -1;
constexpr std::size_t most_flags = 127;
constexpr std::size_t compress_from_bytes = 4096;
constexpr std::size_t chunk_bytes = std::size_t{1} << 20; // HDF5's chunk cache
constexpr unsigned deflate_level = 4;

/// What HDF5 could not do, in words that follow "<path>: ".
class Hdf5Failure : public std::runtime_error {
public:
  explicit Hdf5Failure(const std::string& what, int system_error = 0)
      : std::runtime_error(what), system_error_(system_error) {}
  [[nodiscard]] int system_error() const { return system_error_; } ///< 0: none

private:
  int system_error_;
};

/// The system's error that the failed HDF5 call met, or 0. HDF5 tells it in words alone.
int system_error_met() {
  int error = 0;
  const auto look = [](unsigned, const H5E_error2_t* entry, void* found) -> herr_t {
    constexpr std::string_view mark = "errno = ";
    const std::string_view text = entry->desc == nullptr ? "" : entry->desc;
    if (const std::size_t at = text.find(mark); at != std::string_view::npos) {
      *static_cast<int*>(found) = std::atoi(text.data() + at + mark.size());
    }
    return 0;
  };
  H5Ewalk2(H5E_DEFAULT, H5E_WALK_UPWARD, look, &error);
  return error;
}

/// The result of an HDF5 call, which is negative when it failed.
template <typename Result> Result checked(Result result, std::string_view what) {
  if (result < 0) {
    throw Hdf5Failure(fmt::format("HDF5 could not {}", what), system_error_met());
  }
  return result;
}

/// An HDF5 identifier and what closes it.
class Handle {
public:
  Handle(hid_t id, herr_t (*closer)(hid_t), std::string_view what)
      : id_(checked(id, what)), close_(closer) {}
  Handle(Handle&& other) noexcept : id_(std::exchange(other.id_, -1)), close_(other.close_) {}
  Handle(const Handle&) = delete;
  Handle& operator=(const Handle&) = delete;
  Handle& operator=(Handle&&) = delete;
  ~Handle() {
    if (id_ >= 0) {
      close_(id_);
    }
  }
  operator hid_t() const { return id_; }
  void close(std::string_view what) { checked(close_(std::exchange(id_, -1)), what); }
  void leave_open() { id_ = -1; }

private:
  hid_t id_;
  herr_t (*close_)(hid_t);
};

/// HDF5 to oneself, and quiet: its own printing of errors is off until this goes out of scope. One
/// thread at a time, since HDF5 may be built without thread safety and its dimension scales always
/// are.
class Hdf5Session {
public:
  Hdf5Session() : lock_(mutex()) {
    // What is left open after a failure must not be written at the program's end.
    static const herr_t no_clearing_up = H5dont_atexit();
    static_cast<void>(no_clearing_up);
    H5Eget_auto2(H5E_DEFAULT, &print_, &print_data_);
    H5Eset_auto2(H5E_DEFAULT, nullptr, nullptr);
  }
  Hdf5Session(const Hdf5Session&) = delete;
  Hdf5Session& operator=(const Hdf5Session&) = delete;
  ~Hdf5Session() { H5Eset_auto2(H5E_DEFAULT, print_, print_data_); }

private:
  static std::mutex& mutex() {
    static std::mutex the_mutex;
    return the_mutex;
  }
  std::lock_guard<std::mutex> lock_;
  H5E_auto2_t print_ = nullptr;
  void* print_data_ = nullptr;
};

std::string checksum_line(std::uint64_t checksum) {
  return fmt::format("{}{:016x}\n", checksum_mark, checksum);
}

std::size_t product(const Extents& extents) {
  std::size_t count = 1;
  for (const hsize_t extent : extents) {
    if (extent != 0 && count > std::numeric_limits<std::size_t>::max() / extent) {
      throw Hdf5Failure("it holds an array larger than any memory");
    }
    count *= extent;
  }
  return count;
}

// --- Is the data fit to be written?
// ---------------------------------------------------------------

[[noreturn]] void refuse(const std::string& name, const std::string& what) {
  throw std::invalid_argument(fmt::format("results file: {}: {}", name, what));
}

void check_text(const std::string& name, const std::string& text) {
  if (text.find('\0') != std::string::npos) {
    refuse(name, "text with a NUL character");
  }
}

/// Attributes the file format itself uses.
bool is_reserved(std::string_view attribute) {
  static constexpr std::array<std::string_view, 9> names{
      "CLASS",      "NAME",        "DIMENSION_LIST", "REFERENCE_LIST", "_Netcdf4Dimid",
      "_FillValue", "flag_values", "flag_meanings",  "_NCProperties"};
  return std::find(names.begin(), names.end(), attribute) != names.end();
}

void check_attributes(const std::string& name, const Attributes& attributes) {
  std::set<std::string> seen;
  for (const auto& [key, value] : attributes) {
    if (key.empty() || key.find('/') != std::string::npos || is_reserved(key) ||
        !seen.insert(key).second) {
      refuse(name, fmt::format("the attribute name \"{}\" is not free", key));
    }
    check_text(key, key);
    if (const auto* text = std::get_if<std::string>(&value)) {
      check_text(key, *text);
    }
  }
}

void check_flags(const Variable& variable) {
  if (variable.flags.empty()) {
    return;
  }
  if (variable.flags.size() > most_flags) {
    refuse(variable.name, fmt::format("{} flags, at most {}", variable.flags.size(), most_flags));
  }
  for (const std::string& flag : variable.flags) {
    check_text(variable.name, flag);
    if (flag.empty() || flag.find(' ') != std::string::npos) {
      refuse(variable.name, fmt::format("the flag \"{}\" is not one word", flag));
    }
  }
  for (const double value : variable.values) {
    if (!std::isnan(value) && !(value >= 0 && value < static_cast<double>(variable.flags.size()) &&
                                value == std::floor(value))) {
      refuse(variable.name, fmt::format("{} is none of its flags", value));
    }
  }
}

Extents extents_of(const Dataset& data, const Variable& variable) {
  Extents extents;
  for (const std::string& name : variable.dimensions) {
    const Dimension* dimension = data.dimension(name);
    if (dimension == nullptr) {
      refuse(variable.name, fmt::format("there is no dimension \"{}\"", name));
    }
    extents.push_back(dimension->size);
  }
  return extents;
}

void check(const Dataset& data) {
  std::set<std::string> names;
  const auto check_name = [&](const std::string& name) {
    check_text("a name", name);
    if (name.empty() || name.find('/') != std::string::npos || !names.insert(name).second) {
      refuse(name, "the name is not free");
    }
  };
  check_attributes("root", data.attributes);
  for (const Dimension& dimension : data.dimensions) {
    check_name(dimension.name);
    check_attributes(dimension.name, dimension.attributes);
    if (!dimension.values.empty() && dimension.values.size() != dimension.size) {
      refuse(dimension.name,
             fmt::format("{} values for size {}", dimension.values.size(), dimension.size));
    }
    if (std::any_of(dimension.values.begin(), dimension.values.end(),
                    [](double value) { return std::isnan(value); })) {
      refuse(dimension.name, "NaN as a coordinate value");
    }
  }
  for (const Variable& variable : data.variables) {
    check_name(variable.name);
    check_attributes(variable.name, variable.attributes);
    check_flags(variable);
    const std::size_t size = product(extents_of(data, variable));
    if (variable.values.size() + variable.texts.size() != size ||
        (!variable.values.empty() && !variable.texts.empty())) {
      refuse(variable.name, fmt::format("{} values and {} texts for size {}",
                                        variable.values.size(), variable.texts.size(), size));
    }
    for (const std::string& text : variable.texts) {
      check_text(variable.name, text);
    }
  }
}

// --- Writing
// --------------------------------------------------------------------------------------

Handle property_list(hid_t of_class) {
  return {H5Pcreate(of_class), H5Pclose, "make a property list"};
}

/// `size` bytes long, or of any length for H5T_VARIABLE.
Handle string_type(std::size_t size, H5T_cset_t characters) {
  Handle type(H5Tcopy(H5T_C_S1), H5Tclose, "make a text type");
  checked(H5Tset_size(type, size), "size a text type");
  checked(H5Tset_cset(type, characters), "set the characters of a text type");
  return type;
}

Handle simple_space(const Extents& extents, const Extents& most) {
  if (extents.empty()) {
    return {H5Screate(H5S_SCALAR), H5Sclose, "make a scalar"};
  }
  return {H5Screate_simple(static_cast<int>(extents.size()), extents.data(), most.data()), H5Sclose,
          "make an array's shape"};
}

void write_attribute(hid_t object, const char* name, hid_t type, hid_t memory_type,
                     const void* value) {
  const Handle space = simple_space({}, {});
  Handle attribute(H5Acreate2(object, name, type, space, H5P_DEFAULT, H5P_DEFAULT), H5Aclose,
                   fmt::format("make the attribute {}", name));
  checked(H5Awrite(attribute, memory_type, value), fmt::format("write the attribute {}", name));
  attribute.close(fmt::format("close the attribute {}", name));
}

void write_text_attribute(hid_t object, const char* name, const std::string& text) {
  const bool ascii = std::all_of(text.begin(), text.end(),
                                 [](char c) { return static_cast<signed char>(c) >= 0; });
  if (ascii) {
    // netCDF's classic kind of text, which every reader knows; it has no encoding.
    const Handle type = string_type(std::max<std::size_t>(text.size(), 1), H5T_CSET_ASCII);
    write_attribute(object, name, type, type, text.c_str());
  } else {
    const Handle type = string_type(H5T_VARIABLE, H5T_CSET_UTF8);
    const char* pointer = text.c_str();
    write_attribute(object, name, type, type, &pointer);
  }
}

void write_attributes(hid_t object, const Attributes& attributes) {
  for (const auto& [key, value] : attributes) {
    const char* name = key.c_str();
    if (const auto* text = std::get_if<std::string>(&value)) {
      write_text_attribute(object, name, *text);
    } else if (const auto* real = std::get_if<double>(&value)) {
      write_attribute(object, name, H5T_IEEE_F64LE, H5T_NATIVE_DOUBLE, real);
    } else {
      const std::int64_t whole = std::get<std::int64_t>(value);
      // CF 1.8 has no 64-bit integers: only where 32 bits do not do.
      const bool small = whole == static_cast<std::int32_t>(whole);
      write_attribute(object, name, small ? H5T_STD_I32LE : H5T_STD_I64LE, H5T_NATIVE_INT64,
                      &whole);
    }
  }
}

/// All of the array, or so many of its first rows that a chunk is not larger than `chunk_bytes`.
Extents chunk_shape(Extents shape, std::size_t element_bytes) {
  for (hsize_t& extent : shape) {
    constexpr hsize_t chunk_of_empty = 512;
    extent = extent == 0 ? chunk_of_empty : extent;
  }
  for (hsize_t& extent : shape) {
    while (extent > 1 && product(shape) > chunk_bytes / element_bytes) {
      extent = (extent + 1) / 2;
    }
  }
  return shape;
}

struct ArrayKind {
  hid_t file_type;
  hid_t memory_type;
  const void* fill_value;     ///< nullptr: none
  std::size_t block_rows = 0; ///< of which all of a chunk's are written at once; 0: all rows
};

/// All of so many rows as are a power of 2 and no more than a block's, in a chunk that is not
/// larger than `chunk_bytes` when it has several.
Extents chunk_of_rows(const Extents& shape, std::size_t element_bytes, std::size_t block_rows) {
  Extents chunk = shape;
  chunk.front() = 1;
  const std::size_t row_bytes = std::max<std::size_t>(product(chunk) * element_bytes, 1);
  const std::size_t most = std::min<std::size_t>(block_rows, chunk_bytes / row_bytes);
  chunk.front() = std::min<hsize_t>(std::bit_floor(std::max<std::size_t>(most, 1)), shape.front());
  return chunk;
}

/// An array with creation order tracked, no time stamps, compressed when it is worth it.
Handle create_array(hid_t file, const std::string& name, const Extents& extents,
                    const ArrayKind& kind) {
  const Handle properties = property_list(H5P_DATASET_CREATE);
  const auto set = [&](herr_t result) {
    checked(result, fmt::format("set up the array {}", name));
  };
  set(H5Pset_attr_creation_order(properties, H5P_CRT_ORDER_TRACKED | H5P_CRT_ORDER_INDEXED));
  set(H5Pset_obj_track_times(properties, false));
  if (kind.fill_value != nullptr) {
    set(H5Pset_fill_value(properties, kind.memory_type, kind.fill_value));
  }
  // netCDF has no fixed dimension of size zero: an empty one is unlimited, which wants chunks.
  Extents most = extents;
  std::replace(most.begin(), most.end(), hsize_t{0}, H5S_UNLIMITED);
  const std::size_t element_bytes = H5Tget_size(kind.file_type);
  const bool large = product(extents) >= compress_from_bytes / element_bytes;
  if (!extents.empty() && (large || most != extents)) {
    const Extents chunk = large && kind.block_rows > 0
                              ? chunk_of_rows(extents, element_bytes, kind.block_rows)
                              : chunk_shape(extents, element_bytes);
    set(H5Pset_chunk(properties, static_cast<int>(chunk.size()), chunk.data()));
    set(H5Pset_shuffle(properties));
    set(H5Pset_deflate(properties, deflate_level));
  }
  const Handle space = simple_space(extents, most);
  return {
      H5Dcreate2(file, name.c_str(), kind.file_type, space, H5P_DEFAULT, properties, H5P_DEFAULT),
      H5Dclose, fmt::format("make the array {}", name)};
}

void write_array(hid_t array, const std::string& name, hid_t memory_type, const void* values) {
  checked(H5Dwrite(array, memory_type, H5S_ALL, H5S_ALL, H5P_DEFAULT, values),
          fmt::format("write the array {}", name));
}

void write_fill_value(hid_t array, hid_t type, hid_t memory_type, const void* value) {
  // A list of one value, as netCDF writes it.
  const Handle space = simple_space({1}, {1});
  const Handle attribute(H5Acreate2(array, "_FillValue", type, space, H5P_DEFAULT, H5P_DEFAULT),
                         H5Aclose, "make the attribute _FillValue");
  checked(H5Awrite(attribute, memory_type, value), "write the attribute _FillValue");
}

void write_dimension(hid_t file, const Dimension& dimension, int id) {
  const bool coordinate = !dimension.values.empty();
  Handle array = create_array(file, dimension.name, {dimension.size},
                              coordinate ? ArrayKind{H5T_IEEE_F64LE, H5T_NATIVE_DOUBLE, nullptr}
                                         : ArrayKind{H5T_IEEE_F32BE, H5T_NATIVE_FLOAT, nullptr});
  const std::string scale_name =
      coordinate ? dimension.name : fmt::format("{}{:10}", no_coordinate_text, dimension.size);
  checked(H5DSset_scale(array, scale_name.c_str()),
          fmt::format("make {} a dimension", dimension.name));
  write_attribute(array, "_Netcdf4Dimid", H5T_STD_I32LE, H5T_NATIVE_INT, &id);
  write_attributes(array, dimension.attributes);
  if (coordinate) {
    write_array(array, dimension.name, H5T_NATIVE_DOUBLE, dimension.values.data());
  }
  array.close(fmt::format("close the dimension {}", dimension.name));
}

Handle create_and_write(hid_t file, const Variable& variable, const Extents& extents) {
  const std::string& name = variable.name;
  if (!variable.texts.empty()) {
    const Handle type = string_type(H5T_VARIABLE, H5T_CSET_UTF8);
    Handle array = create_array(file, name, extents, {type, type, nullptr});
    std::vector<const char*> pointers;
    for (const std::string& text : variable.texts) {
      pointers.push_back(text.c_str());
    }
    write_array(array, name, type, pointers.data());
    return array;
  }
  if (variable.flags.empty()) {
    Handle array = create_array(file, name, extents, {H5T_IEEE_F64LE, H5T_NATIVE_DOUBLE, &nan});
    write_fill_value(array, H5T_IEEE_F64LE, H5T_NATIVE_DOUBLE, &nan);
    write_array(array, name, H5T_NATIVE_DOUBLE, variable.values.data());
    return array;
  }
  std::vector<std::int8_t> states;
  for (const double value : variable.values) {
    states.push_back(std::isnan(value) ? missing_flag : static_cast<std::int8_t>(value));
  }
  const bool complete = std::find(states.begin(), states.end(), missing_flag) == states.end();
  // A fill value makes readers turn integers into reals, so only when it is needed.
  Handle array = create_array(file, name, extents,
                              {H5T_STD_I8LE, H5T_NATIVE_INT8, complete ? nullptr : &missing_flag});
  if (!complete) {
    write_fill_value(array, H5T_STD_I8LE, H5T_NATIVE_INT8, &missing_flag);
  }
  std::vector<std::int8_t> flag_values(variable.flags.size());
  std::iota(flag_values.begin(), flag_values.end(), std::int8_t{0});
  const Handle space = simple_space({flag_values.size()}, {flag_values.size()});
  const Handle attribute(
      H5Acreate2(array, "flag_values", H5T_STD_I8LE, space, H5P_DEFAULT, H5P_DEFAULT), H5Aclose,
      "make the attribute flag_values");
  checked(H5Awrite(attribute, H5T_NATIVE_INT8, flag_values.data()),
          "write the attribute flag_values");
  std::string meanings;
  for (const std::string& flag : variable.flags) {
    meanings += meanings.empty() ? flag : ' ' + flag;
  }
  write_text_attribute(array, "flag_meanings", meanings);
  write_array(array, name, H5T_NATIVE_INT8, states.data());
  return array;
}

void attach_dimensions(hid_t file, hid_t array, const std::string& array_name,
                       const std::vector<std::string>& dimensions) {
  for (unsigned axis = 0; axis < dimensions.size(); ++axis) {
    const std::string& name = dimensions[axis];
    const Handle scale(H5Dopen2(file, name.c_str(), H5P_DEFAULT), H5Dclose,
                       fmt::format("open the dimension {}", name));
    checked(H5DSattach_scale(array, scale, axis),
            fmt::format("give {} the dimension {}", array_name, name));
  }
}

void write_variable(hid_t file, const Dataset& data, const Variable& variable) {
  Handle array = create_and_write(file, variable, extents_of(data, variable));
  write_attributes(array, variable.attributes);
  attach_dimensions(file, array, variable.name, variable.dimensions);
  array.close(fmt::format("close the array {}", variable.name));
}

/// Access to a file in memory that the disk knows nothing of.
Handle memory_file_access() {
  Handle access = property_list(H5P_FILE_ACCESS);
  checked(H5Pset_fapl_core(access, chunk_bytes, false), "work in memory");
  checked(H5Pset_fclose_degree(access, H5F_CLOSE_STRONG), "work in memory");
  return access;
}

/// HDF5 takes files in memory with the same name for the same file; a session has one at a time.
constexpr const char* memory_file_name = "heapcast results in memory";

/// An empty file of our kind: names and attributes in order, no time stamps.
Handle create_file(const char* name, hid_t access) {
  const Handle creation = property_list(H5P_FILE_CREATE);
  constexpr unsigned order = H5P_CRT_ORDER_TRACKED | H5P_CRT_ORDER_INDEXED;
  checked(H5Pset_link_creation_order(creation, order), "track the order of names");
  checked(H5Pset_attr_creation_order(creation, order), "track the order of attributes");
  checked(H5Pset_obj_track_times(creation, false), "leave out time stamps");
  // Most arrays are one chunk: an index for 64 of them would be a fifth of a forecast's file.
  constexpr unsigned half_of_chunk_index = 4;
  checked(H5Pset_istore_k(creation, half_of_chunk_index), "make small chunk indices");
  // From the first version on: the check sum of a newer file head is wrong in an image from
  // HDF5 1.10.
  checked(H5Pset_libver_bounds(access, H5F_LIBVER_EARLIEST, H5F_LIBVER_V18),
          "choose the file version");
  return {H5Fcreate(name, H5F_ACC_TRUNC, creation, access), H5Fclose, "make a file"};
}

void write_dataset(hid_t file, const Dataset& data) {
  write_attributes(file, data.attributes);
  int id = 0;
  for (const Dimension& dimension : data.dimensions) {
    write_dimension(file, dimension, id++);
  }
  for (const Variable& variable : data.variables) {
    write_variable(file, data, variable);
  }
}

/// The bytes of the HDF5 file with `data` in it.
std::string hdf5_image(const Dataset& data) {
  const Hdf5Session session;
  const Handle access = memory_file_access();
  const Handle file = create_file(memory_file_name, access);
  write_dataset(file, data);
  checked(H5Fflush(file, H5F_SCOPE_GLOBAL), "complete the file in memory");
  const ssize_t size =
      checked(H5Fget_file_image(file, nullptr, 0), "give the size of the file in memory");
  std::string image(static_cast<std::size_t>(size), '\0');
  checked(H5Fget_file_image(file, image.data(), image.size()), "hand over the file in memory");
  return image;
}

// --- Reading
// --------------------------------------------------------------------------------------

[[noreturn]] void fail_reading(const std::string& path, int error) {
  throw FileError(fmt::format("{}: cannot be read: {} - check the name and that you may read it",
                              path, std::generic_category().message(error)));
}

std::string read_whole_file(const std::string& path) {
  const int descriptor = open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (descriptor < 0) {
    fail_reading(path, errno);
  }
  struct Closer {
    int descriptor;
    ~Closer() { ::close(descriptor); }
  } const closer{descriptor};

  struct stat status {};
  if (fstat(descriptor, &status) != 0) {
    fail_reading(path, errno);
  }
  if (!S_ISREG(status.st_mode)) {
    throw FileError(fmt::format("{}: cannot be read: it is {} - give the name of a results file",
                                path, S_ISDIR(status.st_mode) ? "a folder" : "not a file"));
  }
  std::string bytes(static_cast<std::size_t>(status.st_size), '\0');
  std::size_t done = 0;
  while (done < bytes.size()) {
    const ssize_t count = read(descriptor, bytes.data() + done, bytes.size() - done);
    if (count < 0 && errno != EINTR) {
      fail_reading(path, errno);
    }
    if (count == 0) {
      bytes.resize(done); // became shorter meanwhile
    }
    done += count > 0 ? static_cast<std::size_t>(count) : 0;
  }
  return bytes;
}

/// Memory that holds what HDF5 gave as text of any length, handed back to it in the end.
class TextBuffer {
public:
  TextBuffer(hid_t type, hid_t space, std::size_t count)
      : type_(type), space_(space), pointers_(count, nullptr) {}
  TextBuffer(const TextBuffer&) = delete;
  TextBuffer& operator=(const TextBuffer&) = delete;
  ~TextBuffer() { H5Dvlen_reclaim(type_, space_, H5P_DEFAULT, pointers_.data()); }
  char** data() { return pointers_.data(); }
  [[nodiscard]] std::vector<std::string> texts() const {
    std::vector<std::string> texts;
    for (const char* pointer : pointers_) {
      texts.emplace_back(pointer == nullptr ? "" : pointer);
    }
    return texts;
  }

private:
  hid_t type_, space_;
  std::vector<char*> pointers_;
};

/// Texts of fixed or any length through `read(memory type, buffer)`.
std::vector<std::string> read_texts(hid_t file_type, hid_t space, std::size_t count,
                                    const std::function<void(hid_t, void*)>& read) {
  if (checked(H5Tis_variable_str(file_type), "tell what a text is") > 0) {
    const Handle type = string_type(H5T_VARIABLE, H5Tget_cset(file_type));
    TextBuffer buffer(type, space, count);
    read(type, buffer.data());
    return buffer.texts();
  }
  const std::size_t size = H5Tget_size(file_type);
  std::vector<char> buffer(count * size);
  read(file_type, buffer.data());
  std::vector<std::string> texts;
  for (std::size_t i = 0; i < count; ++i) {
    const char* text = buffer.data() + i * size;
    texts.emplace_back(text, strnlen(text, size));
  }
  return texts;
}

/// nullopt for what an AttributeValue cannot be.
std::optional<AttributeValue> read_value(hid_t attribute) {
  const Handle space(H5Aget_space(attribute), H5Sclose, "open an attribute");
  const Handle type(H5Aget_type(attribute), H5Tclose, "open an attribute");
  if (H5Sget_simple_extent_npoints(space) != 1) {
    return std::nullopt;
  }
  const auto read = [&](hid_t memory_type, void* value) {
    checked(H5Aread(attribute, memory_type, value), "read an attribute");
  };
  switch (H5Tget_class(type)) {
  case H5T_STRING:
    return read_texts(type, space, 1, read).front();
  case H5T_FLOAT: {
    double value = 0;
    read(H5T_NATIVE_DOUBLE, &value);
    return value;
  }
  case H5T_INTEGER: {
    std::int64_t value = 0;
    read(H5T_NATIVE_INT64, &value);
    return value;
  }
  default:
    return std::nullopt;
  }
}

std::string name_of(const std::function<ssize_t(char*, std::size_t)>& get) {
  const ssize_t length = checked(get(nullptr, 0), "read a name");
  std::string name(static_cast<std::size_t>(length), '\0');
  checked(get(name.data(), name.size() + 1), "read a name");
  return name;
}

Attributes read_attributes(hid_t object) {
  H5O_info_t info;
  checked(H5Oget_info2(object, &info, H5O_INFO_NUM_ATTRS), "count the attributes");
  Attributes attributes;
  for (hsize_t i = 0; i < info.num_attrs; ++i) {
    const Handle attribute(
        H5Aopen_by_idx(object, ".", H5_INDEX_CRT_ORDER, H5_ITER_INC, i, H5P_DEFAULT, H5P_DEFAULT),
        H5Aclose, "open an attribute");
    const std::string name = name_of(
        [&](char* buffer, std::size_t size) { return H5Aget_name(attribute, size, buffer); });
    if (is_reserved(name)) {
      continue;
    }
    if (auto value = read_value(attribute)) {
      attributes.emplace_back(name, std::move(*value));
    }
  }
  return attributes;
}

/// An array's shape, refused where the file is too small to hold it.
Extents read_extents(hid_t array, std::size_t most_elements) {
  const Handle space(H5Dget_space(array), H5Sclose, "open an array");
  if (H5Sget_simple_extent_type(space) == H5S_SCALAR) {
    return {};
  }
  const int rank = checked(H5Sget_simple_extent_ndims(space), "read an array's shape");
  Extents extents(static_cast<std::size_t>(rank));
  checked(H5Sget_simple_extent_dims(space, extents.data(), nullptr), "read an array's shape");
  if (rank == 0 || product(extents) > most_elements) {
    throw Hdf5Failure("it holds an array larger than the file can hold");
  }
  return extents;
}

/// A dimension without coordinate values says so in its name as a scale.
bool has_coordinates(hid_t scale) {
  const std::string name = name_of(
      [&](char* buffer, std::size_t size) { return H5DSget_scale_name(scale, buffer, size); });
  return !name.starts_with(no_coordinate_text);
}

Dimension read_dimension(hid_t array, const std::string& name, const Extents& extents) {
  if (extents.size() != 1) {
    throw Hdf5Failure(fmt::format("the dimension {} is not a list", name));
  }
  Dimension dimension{name, extents[0], {}, read_attributes(array)};
  if (has_coordinates(array)) {
    dimension.values.resize(extents[0]);
    checked(
        H5Dread(array, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, dimension.values.data()),
        fmt::format("read the dimension {}", name));
  }
  return dimension;
}

/// Where the dimensions are in the file. (HDF5 finds a name only by looking through all of them.)
using DimensionNames = std::map<haddr_t, std::string>;

/// Name of the first scale on this axis of an array; empty without one.
std::string scale_on(hid_t array, unsigned axis, const DimensionNames& names) {
  haddr_t address = HADDR_UNDEF;
  const auto visit = [](hid_t, unsigned, hid_t scale, void* result) -> herr_t {
    H5O_info_t info; // no exception may pass through HDF5
    if (H5Oget_info2(scale, &info, H5O_INFO_BASIC) < 0) {
      return -1;
    }
    *static_cast<haddr_t*>(result) = info.addr;
    return 1;
  };
  checked(H5DSiterate_scales(array, axis, nullptr, visit, &address), "find an array's dimensions");
  const auto found = names.find(address);
  return found == names.end() ? "" : found->second;
}

std::vector<std::string> read_flags(hid_t array) {
  if (checked(H5Aexists(array, "flag_meanings"), "look for flags") == 0) {
    return {};
  }
  const Handle attribute(H5Aopen(array, "flag_meanings", H5P_DEFAULT), H5Aclose, "read the flags");
  const auto value = read_value(attribute);
  const auto* meanings = value ? std::get_if<std::string>(&*value) : nullptr;
  std::vector<std::string> flags;
  std::istringstream words(meanings != nullptr ? *meanings : "");
  for (std::string word; words >> word;) {
    flags.push_back(word);
  }
  return flags;
}

Variable read_variable(hid_t array, const std::string& name, const Extents& extents,
                       const DimensionNames& dimension_names) {
  Variable variable{name, {}, {}, {}, read_attributes(array), {}};
  for (unsigned axis = 0; axis < extents.size(); ++axis) {
    variable.dimensions.push_back(scale_on(array, axis, dimension_names));
  }
  const Handle type(H5Dget_type(array), H5Tclose, "open an array");
  const std::size_t count = product(extents);
  const auto read = [&](hid_t memory_type, void* values) {
    checked(H5Dread(array, memory_type, H5S_ALL, H5S_ALL, H5P_DEFAULT, values),
            fmt::format("read the array {}", name));
  };
  const H5T_class_t kind = H5Tget_class(type);
  if (kind == H5T_STRING) {
    const Handle space(H5Dget_space(array), H5Sclose, "open an array");
    variable.texts = read_texts(type, space, count, read);
  } else if (kind == H5T_FLOAT || kind == H5T_INTEGER) {
    variable.values.resize(count);
    read(H5T_NATIVE_DOUBLE, variable.values.data());
    variable.flags = read_flags(array);
    if (!variable.flags.empty()) {
      std::replace(variable.values.begin(), variable.values.end(), double{missing_flag}, nan);
    }
  } else {
    throw Hdf5Failure(fmt::format("the array {} is neither numbers nor text", name));
  }
  return variable;
}

Handle open_array(hid_t file, const std::string& name) {
  Handle array(H5Oopen(file, name.c_str(), H5P_DEFAULT), H5Oclose, fmt::format("open {}", name));
  if (H5Iget_type(array) != H5I_DATASET) {
    throw Hdf5Failure(fmt::format("{} is not an array", name));
  }
  return array;
}

std::vector<std::string> names_in_order(hid_t file) {
  H5G_info_t group;
  checked(H5Gget_info(file, &group), "list the arrays");
  std::vector<std::string> names;
  for (hsize_t i = 0; i < group.nlinks; ++i) {
    names.push_back(name_of([&](char* buffer, std::size_t size) {
      return H5Lget_name_by_idx(file, ".", H5_INDEX_CRT_ORDER, H5_ITER_INC, i, buffer, size,
                                H5P_DEFAULT);
    }));
  }
  return names;
}

Dataset read_image(std::string& image) {
  const Hdf5Session session;
  const Handle access = memory_file_access();
  checked(H5Pset_file_image(access, image.data(), image.size()), "open the file in memory");
  const Handle file(H5Fopen(memory_file_name, H5F_ACC_RDONLY, access), H5Fclose,
                    "find its way in the file");
  // No filter makes data more than about a thousand times smaller, and an element has a byte.
  const std::size_t most_elements = image.size() * 2048;
  Dataset data;
  data.attributes = read_attributes(file);
  DimensionNames dimension_names;
  std::vector<std::pair<std::string, Handle>> variables;
  for (std::string& name : names_in_order(file)) {
    Handle array = open_array(file, name);
    if (checked(H5DSis_scale(array), "look for dimensions") == 0) {
      variables.emplace_back(std::move(name), std::move(array));
      continue;
    }
    H5O_info_t info;
    checked(H5Oget_info2(array, &info, H5O_INFO_BASIC), "find the place of a dimension");
    dimension_names.emplace(info.addr, name);
    data.dimensions.push_back(read_dimension(array, name, read_extents(array, most_elements)));
  }
  for (const auto& [name, array] : variables) {
    data.variables.push_back(
        read_variable(array, name, read_extents(array, most_elements), dimension_names));
  }
  check(data);
  return data;
}

template <typename Named>
const Named* find_by_name(const std::vector<Named>& list, const std::string& name) {
  const auto found =
      std::find_if(list.begin(), list.end(), [&](const Named& item) { return item.name == name; });
  return found == list.end() ? nullptr : &*found;
}

} // namespace

const Variable* Dataset::variable(const std::string& name) const {
  return find_by_name(variables, name);
}

const Dimension* Dataset::dimension(const std::string& name) const {
  return find_by_name(dimensions, name);
}

const AttributeValue* Dataset::attribute(const std::string& name) const {
  const auto found = std::find_if(attributes.begin(), attributes.end(),
                                  [&](const auto& item) { return item.first == name; });
  return found == attributes.end() ? nullptr : &found->second;
}

void write_results_file(const std::string& path, const Dataset& data) {
  check(data);
  std::string bytes;
  try {
    bytes = hdf5_image(data);
  } catch (const Hdf5Failure& failure) {
    throw FileError(fmt::format("{}: cannot be written: {} - check that there is enough memory",
                                path, failure.what()));
  }
  bytes += checksum_line(fnv1a64(bytes));
  write_file_atomically(path, bytes);
}

Dataset read_results_file(const std::string& path) {
  std::string bytes = read_whole_file(path);
  if (!bytes.starts_with("\x89HDF\r\n\x1a\n")) {
    throw FileError(fmt::format(
        "{}: is not a results file (not HDF5) - give a file written by this program", path));
  }
  const std::size_t length = bytes.size() - std::min(bytes.size(), checksum_length);
  const std::string last_line = bytes.substr(length);
  bytes.resize(length);
  if (!last_line.starts_with(checksum_mark)) {
    throw FileError(fmt::format(
        "{}: is damaged or not a results file: its check sum is not at its end, so it was cut off "
        "or changed by another program - give a file written by this program, unchanged",
        path));
  }
  if (last_line != checksum_line(fnv1a64(bytes))) {
    throw FileError(fmt::format(
        "{}: is damaged: its content does not match its check sum - make it again", path));
  }
  try {
    return read_image(bytes);
  } catch (const Hdf5Failure& failure) {
    throw FileError(fmt::format(
        "{}: is damaged or not a results file: {} - give a file written by this program", path,
        failure.what()));
  } catch (const std::invalid_argument& contradiction) {
    throw FileError(fmt::format(
        "{}: is damaged or not a results file: {} - give a file written by this program", path,
        contradiction.what()));
  }
}

namespace {

/// An open descriptor for reading.
class ReadFile {
public:
  explicit ReadFile(const std::string& path)
      : path_(path), descriptor_(open(path.c_str(), O_RDONLY | O_CLOEXEC)) {
    if (descriptor_ < 0) {
      fail_reading(path_, errno);
    }
  }
  ReadFile(const ReadFile&) = delete;
  ReadFile& operator=(const ReadFile&) = delete;
  ReadFile(ReadFile&&) = delete;
  ReadFile& operator=(ReadFile&&) = delete;
  ~ReadFile() { ::close(descriptor_); }

  /// Check sum of the first `length` bytes, or of as many as there are, and the rest.
  [[nodiscard]] std::pair<std::uint64_t, std::string> checksum_and_rest(std::size_t length) const {
    std::uint64_t checksum = fnv1a64({});
    std::string rest;
    std::vector<char> block(chunk_bytes);
    std::size_t done = 0;
    for (;;) {
      const ssize_t count = read(descriptor_, block.data(), block.size());
      if (count < 0 && errno != EINTR) {
        fail_reading(path_, errno);
      }
      if (count == 0) {
        return {checksum, rest};
      }
      const std::string_view bytes(block.data(), count > 0 ? static_cast<std::size_t>(count) : 0);
      const std::size_t summed = std::min(bytes.size(), length - std::min(done, length));
      checksum = fnv1a64(bytes.substr(0, summed), checksum);
      rest += bytes.substr(summed);
      done += bytes.size();
    }
  }

private:
  const std::string& path_;
  int descriptor_;
};

void check_streamed(const Dataset& frame, const std::vector<StreamedVariable>& variables) {
  Dataset whole = frame; // empty arrays stand for those to come
  whole.dimensions.push_back({"rows to come", 0, {}, {}});
  for (const StreamedVariable& streamed : variables) {
    (void)extents_of(frame, {streamed.name, streamed.dimensions, {}, {}, {}, {}});
    if (streamed.dimensions.empty()) {
      refuse(streamed.name, "has no rows");
    }
    whole.variables.push_back({streamed.name, {"rows to come"}, {}, {}, streamed.attributes, {}});
  }
  check(whole);
}

} // namespace

struct ResultsStream::Open {
  explicit Open(const std::string& path) : temporary(path) {}

  AtomicFile temporary;
  std::optional<Handle> file;
};

ResultsStream::ResultsStream(const std::string& path, const Dataset& frame,
                             std::vector<StreamedVariable> variables, std::size_t block_rows)
    : path_(path), variables_(std::move(variables)) {
  check_streamed(frame, variables_);
  open_ = std::make_unique<Open>(path);
  guarded([&] {
    const Handle access = property_list(H5P_FILE_ACCESS);
    checked(H5Pset_fclose_degree(access, H5F_CLOSE_STRONG), "set up a file");
    open_->file.emplace(create_file(open_->temporary.temporary_name().c_str(), access));
    const hid_t file = *open_->file;
    write_dataset(file, frame);
    for (const StreamedVariable& streamed : variables_) {
      const Extents extents =
          extents_of(frame, {streamed.name, streamed.dimensions, {}, {}, {}, {}});
      const Handle text = string_type(H5T_VARIABLE, H5T_CSET_UTF8);
      constexpr float single_nan = std::numeric_limits<float>::quiet_NaN();
      const ArrayKind kind = streamed.storage == Storage::text ? ArrayKind{text, text, nullptr}
                             : streamed.storage == Storage::whole
                                 ? ArrayKind{H5T_STD_I32LE, H5T_NATIVE_INT, nullptr}
                             : streamed.storage == Storage::single
                                 ? ArrayKind{H5T_IEEE_F32LE, H5T_NATIVE_FLOAT, &single_nan}
                                 : ArrayKind{H5T_IEEE_F64LE, H5T_NATIVE_DOUBLE, &nan};
      Handle array = create_array(file, streamed.name, extents,
                                  {kind.file_type, kind.memory_type, kind.fill_value, block_rows});
      if (kind.fill_value != nullptr) {
        write_fill_value(array, kind.file_type, kind.memory_type, kind.fill_value);
      }
      write_attributes(array, streamed.attributes);
      attach_dimensions(file, array, streamed.name, streamed.dimensions);
      array.close(fmt::format("close the array {}", streamed.name));
    }
  });
}

ResultsStream::~ResultsStream() {
  abandon();
}

/// Runs a part of the writing. After a failure there is nothing left of the file.
template <class Body> void ResultsStream::guarded(const Body& body) {
  try {
    const Hdf5Session session;
    body();
  } catch (const Hdf5Failure& failure) {
    const int error = failure.system_error();
    const std::string what = failure.what();
    abandon();
    if (error != 0) {
      fail_writing(path_, error);
    }
    throw FileError(fmt::format("{}: cannot be written: {} - check memory and disk", path_, what));
  }
}

void ResultsStream::abandon() {
  if (open_ && open_->file) {
    // HDF5 wants to write what it still holds before it lets go of a file, and does not get over it
    // when the disk is full. So it keeps the file, which has no name any more.
    open_->file->leave_open();
    open_->file.reset();
  }
  open_.reset();
}

namespace {

/// Writes rows from `first` on; `values` are all of theirs.
void write_rows(hid_t file, const std::string& name, std::size_t first, std::size_t count,
                const std::function<std::pair<hid_t, const void*>(hid_t array_type)>& values) {
  const Handle access = property_list(H5P_DATASET_ACCESS);
  // Whole chunks are written once: nothing to be gained by keeping them.
  checked(H5Pset_chunk_cache(access, 0, 0, H5D_CHUNK_CACHE_W0_DEFAULT), "do without a cache");
  Handle array(H5Dopen2(file, name.c_str(), access), H5Dclose, fmt::format("open {}", name));
  const Handle space(H5Dget_space(array), H5Sclose, "open an array");
  Extents extents(static_cast<std::size_t>(H5Sget_simple_extent_ndims(space)));
  checked(H5Sget_simple_extent_dims(space, extents.data(), nullptr), "read an array's shape");
  Extents start(extents.size(), 0);
  start.front() = first;
  extents.front() = 1;
  const std::size_t row = product(extents);
  if (row == 0 || count % row != 0) {
    throw std::invalid_argument(
        fmt::format("results file: {}: {} values are no rows of {}", name, count, row));
  }
  extents.front() = count / row;
  if (count == 0) {
    return;
  }
  checked(
      H5Sselect_hyperslab(space, H5S_SELECT_SET, start.data(), nullptr, extents.data(), nullptr),
      fmt::format("find rows of {}", name));
  const Handle memory = simple_space(extents, extents);
  const Handle type(H5Dget_type(array), H5Tclose, "open an array");
  const auto [memory_type, data] = values(type);
  checked(H5Dwrite(array, memory_type, memory, space, H5P_DEFAULT, data),
          fmt::format("write the array {}", name));
  array.close(fmt::format("close the array {}", name));
}

} // namespace

void ResultsStream::write(std::size_t variable, std::size_t first_row,
                          std::span<const double> values) {
  guarded([&] {
    write_rows(*open_->file, variables_.at(variable).name, first_row, values.size(), [&](hid_t) {
      return std::pair<hid_t, const void*>(H5T_NATIVE_DOUBLE, values.data());
    });
  });
}

void ResultsStream::write(std::size_t variable, std::size_t first_row,
                          std::span<const std::string> texts) {
  std::vector<const char*> pointers;
  pointers.reserve(texts.size());
  for (const std::string& text : texts) {
    check_text(variables_.at(variable).name, text);
    pointers.push_back(text.c_str());
  }
  guarded([&] {
    write_rows(*open_->file, variables_.at(variable).name, first_row, pointers.size(),
               [&](hid_t type) { return std::pair<hid_t, const void*>(type, pointers.data()); });
  });
}

void ResultsStream::finish() {
  guarded([&] {
    checked(H5Fflush(*open_->file, H5F_SCOPE_GLOBAL), "complete the file");
    open_->file->close("close the file");
    open_->file.reset();
  });
  const ReadFile written(open_->temporary.temporary_name());
  const auto [checksum, rest] = written.checksum_and_rest(std::numeric_limits<std::size_t>::max());
  open_->temporary.append(checksum_line(checksum));
  open_->temporary.finish();
  open_.reset();
}

Attributes read_results_attributes(const std::string& path) {
  std::error_code unknown;
  const std::uintmax_t size = std::filesystem::file_size(path, unknown);
  const ReadFile file(path);
  const std::size_t length = unknown ? 0 : size - std::min<std::uintmax_t>(size, checksum_length);
  const auto [checksum, last_line] = file.checksum_and_rest(length);
  if (last_line != checksum_line(checksum)) {
    throw FileError(fmt::format(
        "{}: is damaged or not a results file: it has no valid check sum - move it away", path));
  }
  try {
    const Hdf5Session session;
    const Handle opened(H5Fopen(path.c_str(), H5F_ACC_RDONLY, H5P_DEFAULT), H5Fclose,
                        "find its way in the file");
    return read_attributes(opened);
  } catch (const Hdf5Failure& failure) {
    throw FileError(fmt::format("{}: is damaged or not a results file: {} - move it away", path,
                                failure.what()));
  }
}

} // namespace heapcast::engine
