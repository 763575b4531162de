#include "engine/results_file.hpp"

#include "engine/checksum.hpp"
#include "engine/errors.hpp"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <functional>
#include <iterator>
#include <limits>
#include <random>
#include <sstream>
#include <stdexcept>

#include <csignal>
#include <sched.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

namespace heapcast::engine {
namespace {

namespace fs = std::filesystem;
using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

/// An empty folder, gone with all in it at the end of the test.
class ResultsFile : public testing::Test {
protected:
  ResultsFile() {
    std::string name = (fs::temp_directory_path() / "results_file_XXXXXX").string();
    if (mkdtemp(name.data()) == nullptr) {
      throw std::runtime_error("no temporary folder");
    }
    folder_ = name;
    fs::permissions(folder_, fs::perms::all);
  }
  ~ResultsFile() override { fs::remove_all(folder_); }

  [[nodiscard]] std::string file(const std::string& name) const { return folder_ / name; }

  fs::path folder_;
};

std::string bytes_of(const std::string& path) {
  std::ifstream stream(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

void put_bytes(const std::string& path, const std::string& bytes) {
  std::ofstream(path, std::ios::binary) << bytes;
}

std::string error_of(const std::function<void()>& action) {
  try {
    action();
  } catch (const FileError& error) {
    return error.what();
  }
  return "no FileError";
}

struct CommandResult {
  std::string output;
  int status = -1;
};

CommandResult run(const std::string& command) {
  CommandResult result;
  FILE* pipe = popen((command + " 2>&1").c_str(), "r");
  if (pipe == nullptr) {
    return result;
  }
  std::array<char, 4096> buffer{};
  while (const std::size_t count = fread(buffer.data(), 1, buffer.size(), pipe)) {
    result.output.append(buffer.data(), count);
  }
  result.status = pclose(pipe);
  return result;
}

/// What `action` tells on standard terms when done in a process of its own: its exit status.
int status_of_child(const std::function<int()>& action) {
  const pid_t child = fork();
  if (child == 0) {
    _exit(action());
  }
  int status = 0;
  waitpid(child, &status, 0);
  return status;
}

/// Everything a Dataset can hold, small enough to see through.
Dataset everything() {
  Dataset data;
  data.attributes = {{"Conventions", std::string("CF-1.8")},
                     {"note", std::string("a text with an umlaut: ü, and a degree sign: °")},
                     {"empty", std::string()},
                     {"schema_version", std::int64_t{1}},
                     {"seed", std::int64_t{123456789012345}},
                     {"negative", std::int64_t{-7}},
                     {"tolerance", 0.1}};
  data.dimensions = {{"run", 2, {}, {}},
                     {"time",
                      3,
                      {0.0, 1.0, 2.5},
                      {{"units", std::string("hours since 2025-03-01 08:00:00")},
                       {"calendar", std::string("standard")},
                       {"standard_name", std::string("time")}}},
                     {"event", 0, {}, {}},
                     {"cell", 2, {}, {{"long_name", std::string("cells of the section")}}}};
  data.variables = {
      {"core_temperature",
       {"run", "time"},
       {20.25, 61.7, nan, -0.0, 1e-300, 1.0 / 3.0},
       {},
       {{"units", std::string("degC")}, {"long_name", std::string("temperature of the core")}}},
      {"ready_day", {"run"}, {nan, 42.0}, {}, {{"units", std::string("day")}}},
      {"ready_day_reason", {"run"}, {}, {"not within 60 days — still warm", ""}, {}},
      {"event_day", {"event"}, {}, {}, {}},
      {"limit", {"run", "time"}, {0, 1, 2, 2, nan, 0}, {}, {}, {"none", "cold", "dry"}},
      {"kind", {"cell"}, {1, 0}, {}, {}, {"edge", "core"}},
      {"single", {}, {6.5}, {}, {}},
      {"title", {}, {}, {"one text"}, {}}};
  return data;
}

/// Large enough to be chunked, compressed, and broken off in the middle of writing.
Dataset large(double level) {
  Dataset data;
  data.attributes = {{"level", level}};
  data.dimensions = {{"run", 1, {}, {}}, {"time", 20000, {}, {}}};
  std::mt19937_64 random(1); // numbers that do not compress
  for (int i = 0; i < 10; ++i) {
    Variable variable{"series_" + std::to_string(i), {"run", "time"}, {}, {}, {}};
    for (int t = 0; t < 20000; ++t) {
      variable.values.push_back(level + static_cast<double>(random() % 1000000) * 1e-6);
    }
    data.variables.push_back(std::move(variable));
  }
  return data;
}

bool same_values(const std::vector<double>& a, const std::vector<double>& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](double x, double y) {
    return std::isnan(x) ? std::isnan(y) : x == y && std::signbit(x) == std::signbit(y);
  });
}

void expect_same(const Dataset& a, const Dataset& b) {
  EXPECT_EQ(a.attributes, b.attributes);
  ASSERT_EQ(a.dimensions.size(), b.dimensions.size());
  for (std::size_t i = 0; i < a.dimensions.size(); ++i) {
    EXPECT_EQ(a.dimensions[i].name, b.dimensions[i].name);
    EXPECT_EQ(a.dimensions[i].size, b.dimensions[i].size);
    EXPECT_EQ(a.dimensions[i].values, b.dimensions[i].values);
    EXPECT_EQ(a.dimensions[i].attributes, b.dimensions[i].attributes);
  }
  ASSERT_EQ(a.variables.size(), b.variables.size());
  for (std::size_t i = 0; i < a.variables.size(); ++i) {
    EXPECT_EQ(a.variables[i].name, b.variables[i].name);
    EXPECT_EQ(a.variables[i].dimensions, b.variables[i].dimensions);
    EXPECT_EQ(a.variables[i].texts, b.variables[i].texts);
    EXPECT_EQ(a.variables[i].attributes, b.variables[i].attributes);
    EXPECT_EQ(a.variables[i].flags, b.variables[i].flags);
    EXPECT_TRUE(same_values(a.variables[i].values, b.variables[i].values)) << a.variables[i].name;
  }
}

TEST_F(ResultsFile, GivesBackEverythingInOrder) {
  write_results_file(file("a.h5"), everything());
  expect_same(read_results_file(file("a.h5")), everything());
}

TEST_F(ResultsFile, GivesBackLargeArraysAndLongTextsUnchanged) {
  Dataset data = large(20.0);
  // Beyond the 64 kB that an HDF5 object header holds.
  data.attributes.emplace_back("ascii", std::string(200000, 'x'));
  std::string degrees;
  for (int i = 0; i < 50000; ++i) {
    degrees += "°C";
  }
  data.attributes.emplace_back("not_ascii", degrees);
  Variable reasons{"reason", {"time"}, {}, {}, {}};
  for (int i = 0; i < 20000; ++i) {
    reasons.texts.push_back(i % 3 == 0 ? "" : "reason " + std::to_string(i));
  }
  data.variables.push_back(reasons);
  write_results_file(file("a.h5"), data);
  expect_same(read_results_file(file("a.h5")), data);
}

TEST_F(ResultsFile, FindsByName) {
  const Dataset data = everything();
  EXPECT_EQ(data.variable("single")->values, std::vector<double>{6.5});
  EXPECT_EQ(data.dimension("time")->size, 3U);
  EXPECT_EQ(std::get<std::int64_t>(*data.attribute("negative")), -7);
  EXPECT_EQ(data.variable("time"), nullptr);
  EXPECT_EQ(data.dimension("single"), nullptr);
  EXPECT_EQ(data.attribute("absent"), nullptr);
}

TEST_F(ResultsFile, EqualDataGivesEqualBytesAtAnotherTimeInAnotherProcess) {
  const auto write_to = [&](const std::string& name) {
    Dataset data = large(1.0);
    const Dataset more = everything();
    data.attributes = more.attributes;
    data.variables.push_back({"text", {"run"}, {}, {"°"}, {}});
    write_results_file(file(name), data);
  };
  write_to("a.h5");
  std::this_thread::sleep_for(
      std::chrono::milliseconds(1100)); // HDF5 time stamps are whole seconds
  EXPECT_EQ(status_of_child([&] {
              const std::vector<char> other_heap(10'000'000, 'j');
              write_to("b.h5");
              return other_heap.front() == 'j' ? 0 : 1;
            }),
            0);
  EXPECT_FALSE(bytes_of(file("a.h5")).empty());
  EXPECT_TRUE(bytes_of(file("a.h5")) == bytes_of(file("b.h5")));
}

TEST_F(ResultsFile, IsNetcdfForNcdump) {
  write_results_file(file("a.h5"), everything());
  const CommandResult header = run("ncdump -h " + file("a.h5"));
  EXPECT_EQ(header.status, 0) << header.output;
  // Dimensions in their order, the empty one unlimited; no variable for a dimension without values.
  EXPECT_THAT(header.output,
              HasSubstr("dimensions:\n\trun = 2 ;\n\ttime = 3 ;\n\tevent = UNLIMITED ; // (0 "
                        "currently)\n\tcell = 2 ;\nvariables:\n\tdouble time(time) ;\n"));
  for (const char* line :
       {"double core_temperature(run, time) ;", "core_temperature:_FillValue = NaN",
        "core_temperature:units = \"degC\"", "string ready_day_reason(run) ;",
        "double event_day(event) ;", "byte limit(run, time) ;", "limit:flag_values = 0b, 1b, 2b ;",
        "limit:flag_meanings = \"none cold dry\" ;", "limit:_FillValue = -1b ;", "double single ;",
        ":Conventions = \"CF-1.8\" ;", ":schema_version = 1 ;", ":seed = 123456789012345LL ;",
        ":tolerance = 0.1 ;"}) {
    EXPECT_THAT(header.output, HasSubstr(line));
  }
  EXPECT_THAT(header.output, testing::Not(HasSubstr("double run(")));
  const CommandResult values = run("ncdump -v core_temperature " + file("a.h5"));
  EXPECT_THAT(values.output, HasSubstr("20.25, 61.7, _,") /* the fill value */);
}

/// What xarray makes of the file, one thing a line.
constexpr const char* results_script = R"(
import sys
import xarray
data = xarray.open_dataset(sys.argv[1], engine=sys.argv[2])
print(sorted(data.sizes.items()))
print(data.time.values[2])
print(data.core_temperature.dims, data.core_temperature.attrs['units'])
print(repr(float(data.core_temperature[1, 2])), bool(data.core_temperature[0, 2].isnull()))
print([str(text) for text in data.ready_day_reason.values])
print(data.kind.dtype, data.kind.values.tolist(), data.kind.attrs['flag_meanings'])
print(data.limit.values.tolist())
print(float(data.single), str(data.title.values))
print(data.attrs['Conventions'], data.attrs['schema_version'], data.attrs['seed'], data.attrs['tolerance'])
print(data.attrs['note'], '[' + data.attrs['empty'] + ']')
print(list(data.coords), list(data.data_vars))
)";

constexpr const char* python_sees =
    R"([('cell', 2), ('event', 0), ('run', 2), ('time', 3)]
2025-03-01T10:30:00.000000000
('run', 'time') degC
0.3333333333333333 True
['not within 60 days — still warm', '']
int8 [1, 0] edge core
[[0.0, 1.0, 2.0], [2.0, nan, 0.0]]
6.5 one text
CF-1.8 1 123456789012345 0.1
a text with an umlaut: ü, and a degree sign: ° []
['time'] ['core_temperature', 'ready_day', 'ready_day_reason', 'event_day', 'limit', 'kind', 'single', 'title']
)";

class ResultsFileInXarray : public ResultsFile, public testing::WithParamInterface<const char*> {};

TEST_P(ResultsFileInXarray, OpensWithNamesUnitsAndTimes) {
  write_results_file(file("a.h5"), everything());
  put_bytes(file("read.py"), results_script);
  const CommandResult result = run("PYTHONIOENCODING=utf-8 /usr/bin/python3 " + file("read.py") +
                                   " " + file("a.h5") + " " + GetParam());
  EXPECT_EQ(result.status, 0);
  EXPECT_EQ(result.output, python_sees);
}

INSTANTIATE_TEST_SUITE_P(Engines, ResultsFileInXarray, testing::Values("netcdf4", "h5netcdf"),
                         [](const auto& parameter) { return std::string(parameter.param); });

TEST_F(ResultsFile, ThatAnotherProgramAddedToIsRefusedByItsMissingCheckSum) {
  write_results_file(file("a.h5"), everything());
  put_bytes(file("add.py"), "import sys, netCDF4\n"
                            "data = netCDF4.Dataset(sys.argv[1], 'a')\n"
                            "data.comment = 'seen'\n"
                            "data.close()\n");
  const CommandResult result = run("/usr/bin/python3 " + file("add.py") + " " + file("a.h5"));
  ASSERT_EQ(result.status, 0) << result.output;
  EXPECT_THAT(error_of([&] { (void)read_results_file(file("a.h5")); }),
              AllOf(HasSubstr(file("a.h5")), HasSubstr("changed by another program")));
}

TEST_F(ResultsFile, AKilledWriterLeavesTheOldFileOrANewOne) {
  const std::string path = file("a.h5");
  write_results_file(path, large(-1.0));
  bool replaced = false;
  std::mt19937 random(3);
  for (int round = 0; round < 40; ++round) {
    std::array<int, 2> written{};
    ASSERT_EQ(pipe(written.data()), 0);
    const pid_t child = fork();
    if (child == 0) {
      for (int i = 0;; ++i) {
        write_results_file(path, large(i));
        if (write(written[1], "w", 1) != 1) {
          _exit(1);
        }
      }
    }
    if (round % 2 == 1) { // killed in a later writing than the first
      char byte = 0;
      ASSERT_EQ(read(written[0], &byte, 1), 1);
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(random() % 50));
    kill(child, SIGKILL);
    waitpid(child, nullptr, 0);
    close(written[0]);
    close(written[1]);
    const Dataset found = read_results_file(path);
    const double level = std::get<double>(*found.attribute("level"));
    replaced = replaced || level >= 0;
    expect_same(found, large(level));
  }
  EXPECT_TRUE(replaced);
  write_results_file(path, large(7.0));
  expect_same(read_results_file(path), large(7.0));
}

TEST_F(ResultsFile, AKilledFirstWriterLeavesNoFileOrAWholeOne) {
  for (int round = 0; round < 20; ++round) {
    const std::string path = file("a.h5");
    fs::remove(path);
    const pid_t child = fork();
    if (child == 0) {
      write_results_file(path, large(1.0));
      _exit(0);
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(2 * round));
    kill(child, SIGKILL);
    waitpid(child, nullptr, 0);
    if (fs::exists(path)) {
      expect_same(read_results_file(path), large(1.0));
    }
  }
}

TEST_F(ResultsFile, LeftoversOfAKilledRunAreInNobodysWay) {
  for (int i = 0; i < 3; ++i) {
    put_bytes(file("a.h5.partial-" + std::to_string(getpid()) + "-" + std::to_string(i)), "half");
  }
  write_results_file(file("a.h5"), everything());
  expect_same(read_results_file(file("a.h5")), everything());
}

TEST_F(ResultsFile, LeavesNothingButTheFile) {
  write_results_file(file("a.h5"), everything());
  write_results_file(file("a.h5"), everything());
  EXPECT_EQ(std::distance(fs::directory_iterator(folder_), fs::directory_iterator()), 1);
}

/// The kernel refuses to write on past 100 kB, as it does on a full disk.
void allow_100_kB() {
  std::signal(SIGXFSZ, SIG_IGN);
  const rlimit limit{100'000, 100'000};
  setrlimit(RLIMIT_FSIZE, &limit);
}

/// Writes over a file that is there, in a process of its own, after `restrict`; the error message
/// goes to a file elsewhere, since the process may not be able to write beside the results.
std::string error_under(const std::function<void()>& restrict, const std::function<void()>& write,
                        const std::string& message_path) {
  // Opened before the restriction.
  FILE* message_file = std::fopen(message_path.c_str(), "w");
  const int status = status_of_child([&] {
    restrict();
    const std::string message = error_of(write);
    std::fputs(message.c_str(), message_file);
    std::fclose(message_file);
    return 0;
  });
  std::fclose(message_file);
  EXPECT_EQ(status, 0);
  return bytes_of(message_path);
}

TEST_F(ResultsFile, AFullDiskIsToldAndLeavesTheOldFile) {
  const std::string path = file("a.h5");
  write_results_file(path, everything());
  const std::string message = error_under(
      allow_100_kB, [&] { write_results_file(path, large(1.0)); }, file("message"));
  EXPECT_THAT(message, AllOf(HasSubstr(path), HasSubstr("File too large"), HasSubstr("ulimit")));
  expect_same(read_results_file(path), everything());
  fs::remove(file("message"));
  EXPECT_EQ(std::distance(fs::directory_iterator(folder_), fs::directory_iterator()), 1);
}

TEST_F(ResultsFile, AFullTinyDiskIsToldAndLeavesTheOldFile) {
  const fs::path disk = folder_ / "disk";
  fs::create_directory(disk);
  const std::string path = disk / "a.h5";
  // The disk is seen by the child alone and is gone with it. Mounting needs rights that a test may
  // not have (EPERM, in a container root too) and a root folder that is a mount (EINVAL in a
  // chroot); the limit on the size of files, tested above, is then the only full disk.
  constexpr int not_allowed = 2;
  const int status = status_of_child([&] {
    if (unshare(CLONE_NEWNS) != 0 ||
        mount("none", "/", nullptr, MS_REC | MS_PRIVATE, nullptr) != 0 ||
        mount("none", disk.c_str(), "tmpfs", 0, "size=64k") != 0) {
      return errno == EPERM || errno == EINVAL ? not_allowed : 1;
    }
    write_results_file(path, everything());
    const std::string message = error_of([&] { write_results_file(path, large(1.0)); });
    put_bytes(file("message"), message);
    expect_same(read_results_file(path), everything());
    EXPECT_EQ(std::distance(fs::directory_iterator(disk), fs::directory_iterator()), 1);
    return HasFailure() ? 1 : 0;
  });
  if (WEXITSTATUS(status) == not_allowed) {
    GTEST_SKIP() << "no disk can be mounted here";
  }
  EXPECT_EQ(status, 0);
  EXPECT_THAT(
      bytes_of(file("message")),
      AllOf(HasSubstr(path), HasSubstr("No space left on device"), HasSubstr("free some space")));
}

TEST_F(ResultsFile, AFolderWithoutPermissionIsTold) {
  const fs::path closed = folder_ / "closed";
  fs::create_directory(closed);
  fs::permissions(closed, fs::perms::owner_read | fs::perms::owner_exec | fs::perms::others_read |
                              fs::perms::others_exec);
  const std::string path = closed / "a.h5";
  const std::string message = error_under(
      [] {
        constexpr uid_t nobody = 65534;
        if (geteuid() == 0 && setuid(nobody) != 0) { // root may write anywhere
          _exit(1);
        }
      },
      [&] { write_results_file(path, large(1.0)); }, file("message"));
  EXPECT_THAT(message, AllOf(HasSubstr(path + ": cannot be written: Permission denied"),
                             HasSubstr("choose a folder you may write to")));
}

TEST_F(ResultsFile, ReplacesNothingThatIsNotAFile) {
  EXPECT_THAT(error_of([&] { write_results_file(folder_, everything()); }),
              HasSubstr("it is a folder"));
  EXPECT_THAT(error_of([&] { write_results_file("/dev/null", everything()); }),
              HasSubstr("/dev/null: cannot be written: it is not an ordinary file"));
  EXPECT_TRUE(fs::is_character_file("/dev/null"));
  EXPECT_THAT(error_of([&] { write_results_file("", everything()); }),
              HasSubstr("the name is empty"));
  EXPECT_THAT(error_of([&] { write_results_file(file("absent/a.h5"), everything()); }),
              AllOf(HasSubstr("No such file or directory"), HasSubstr("make the folder first")));
}

TEST_F(ResultsFile, WritesThroughASymbolicLink) {
  fs::create_directory(folder_ / "real");
  put_bytes(file("real/a.h5"), "old");
  fs::create_symlink("real/a.h5", folder_ / "link.h5");
  write_results_file(file("link.h5"), everything());
  EXPECT_TRUE(fs::is_symlink(file("link.h5")));
  expect_same(read_results_file(file("real/a.h5")), everything());
}

TEST_F(ResultsFile, NamesUpToTheFileSystemsLimitWork) {
  const std::string path = file(std::string(255, 'n')); // NAME_MAX of Linux
  write_results_file(path, everything());
  expect_same(read_results_file(path), everything());
  EXPECT_THAT(error_of([&] { write_results_file(path + "n", everything()); }),
              HasSubstr("choose a shorter name"));
}

TEST_F(ResultsFile, MissingAndForeignFilesAreTold) {
  EXPECT_THAT(error_of([&] { (void)read_results_file(file("absent.h5")); }),
              AllOf(HasSubstr(file("absent.h5")), HasSubstr("No such file or directory")));
  EXPECT_THAT(error_of([&] { (void)read_results_file(folder_); }), HasSubstr("it is a folder"));
  EXPECT_THAT(error_of([&] { (void)read_results_file("/dev/null"); }), HasSubstr("not a file"));
  put_bytes(file("empty"), "");
  put_bytes(file("text"), "title = \"a pile file\"\n");
  put_bytes(file("stub"), "\x89HDF\r\n\x1a\n");
  EXPECT_THAT(error_of([&] { (void)read_results_file(file("empty")); }), HasSubstr("not HDF5"));
  EXPECT_THAT(error_of([&] { (void)read_results_file(file("text")); }), HasSubstr("not HDF5"));
  EXPECT_THAT(error_of([&] { (void)read_results_file(file("stub")); }), HasSubstr("is damaged"));
}

TEST_F(ResultsFile, HdfFilesOfAnotherKindAreTold) {
  put_bytes(file("make.py"), "import sys, h5py\n"
                             "folder = sys.argv[1]\n"
                             "with h5py.File(folder + '/group.h5', 'w') as f: f.create_group('g')\n"
                             "with h5py.File(folder + '/bare.h5', 'w') as f: f['x'] = [1.0, 2.0]\n"
                             "with h5py.File(folder + '/pair.h5', 'w') as f: f['x'] = [1 + 2j]\n"
                             "with h5py.File(folder + '/huge.h5', 'w') as f:\n"
                             "  f.create_dataset('x', (10**12,), 'f8')\n"
                             "with h5py.File(folder + '/link.h5', 'w') as f:\n"
                             "  f['x'] = h5py.ExternalLink('nowhere.h5', '/x')\n");
  const CommandResult made = run("/usr/bin/python3 " + file("make.py") + " " + folder_.string());
  ASSERT_EQ(made.status, 0) << made.output;
  for (const char* name : {"group.h5", "bare.h5", "pair.h5", "huge.h5", "link.h5"}) {
    const auto error = [&] { return error_of([&] { (void)read_results_file(file(name)); }); };
    EXPECT_THAT(error(), AllOf(HasSubstr(file(name)), HasSubstr("its check sum is not at its end"),
                               HasSubstr("give a file written by this program")));
    // With a check sum of its own its content is what is wrong.
    const std::string bytes = bytes_of(file(name));
    put_bytes(file(name), bytes + fmt::format("\nfnv1a64 {:016x}\n", fnv1a64(bytes)));
    EXPECT_THAT(error(), AllOf(HasSubstr(file(name)), HasSubstr("is damaged or not a results file"),
                               Not(HasSubstr("check sum"))));
  }
}

TEST_F(ResultsFile, EveryTruncationIsTold) {
  write_results_file(file("a.h5"), everything());
  const std::string whole = bytes_of(file("a.h5"));
  const auto is_told = [&](std::size_t length) {
    put_bytes(file("cut.h5"), whole.substr(0, length));
    return error_of([&] { (void)read_results_file(file("cut.h5")); }) != "no FileError";
  };
  for (std::size_t length = 0; length < whole.size() - 27; length += 1 + length / 100) {
    EXPECT_TRUE(is_told(length)) << length;
  }
  // All the data is there; only the check sum of 26 bytes is gone, or a part of it.
  for (std::size_t length = whole.size() - 27; length < whole.size(); ++length) {
    EXPECT_TRUE(is_told(length)) << length;
  }
}

TEST_F(ResultsFile, EveryFlippedBitIsTold) {
  write_results_file(file("a.h5"), everything());
  const std::string whole = bytes_of(file("a.h5"));
  std::mt19937 random(11);
  for (int i = 0; i < 2000; ++i) {
    std::string damaged = whole;
    const std::size_t at = random() % damaged.size();
    damaged[at] = static_cast<char>(damaged[at] ^ (1 << random() % 8));
    put_bytes(file("b.h5"), damaged);
    EXPECT_THAT(error_of([&] { (void)read_results_file(file("b.h5")); }), HasSubstr(file("b.h5")))
        << at;
  }
}

TEST_F(ResultsFile, DataThatContradictsItselfIsRefused) {
  const auto broken = [](const std::function<void(Dataset&)>& change) {
    Dataset data = everything();
    change(data);
    return data;
  };
  const std::vector<Dataset> all{
      broken([](Dataset& d) { d.variables[0].values.pop_back(); }),
      broken([](Dataset& d) { d.variables[0].texts.emplace_back("both"); }),
      broken([](Dataset& d) { d.variables[0].dimensions[0] = "absent"; }),
      broken([](Dataset& d) { d.variables[0].name = "time"; }),
      broken([](Dataset& d) { d.variables[0].name = "a/b"; }),
      broken([](Dataset& d) { d.variables[0].attributes.emplace_back("_FillValue", 1.0); }),
      broken([](Dataset& d) { d.variables[2].texts[0] = std::string("nul\0", 4); }),
      broken([](Dataset& d) { d.variables[4].values[0] = 3; }),
      broken([](Dataset& d) { d.variables[4].values[0] = 0.5; }),
      broken([](Dataset& d) { d.variables[4].flags[0] = "two words"; }),
      broken([](Dataset& d) { d.dimensions[1].values[1] = nan; }),
      broken([](Dataset& d) { d.dimensions[1].values.pop_back(); }),
      broken([](Dataset& d) { d.attributes.push_back(d.attributes.front()); })};
  for (const Dataset& data : all) {
    EXPECT_THROW(write_results_file(file("a.h5"), data), std::invalid_argument);
  }
  EXPECT_TRUE(fs::is_empty(folder_));
}

/// Three variables over seven rows, to be written by rows of 4 and 3.
Dataset frame_of_seven() {
  Dataset frame;
  frame.attributes = {{"title", std::string("streamed")}};
  frame.dimensions = {{"row", 7, {0, 1, 2, 3, 4, 5, 6}, {}}, {"column", 2, {}, {}}};
  frame.variables = {{"words", {"column"}, {}, {"left", "right"}, {}, {}}};
  return frame;
}

std::vector<StreamedVariable> streamed_variables() {
  return {{"number", {"row"}, {{"units", std::string("m")}}, Storage::real},
          {"pair", {"row", "column"}, {}, Storage::single},
          {"count", {"row"}, {}, Storage::whole},
          {"text", {"row"}, {}, Storage::text}};
}

void stream_seven(const std::string& path) {
  ResultsStream stream(path, frame_of_seven(), streamed_variables(), 4);
  const std::vector<double> first = {0.1, nan, 2.5, 3};
  const std::vector<double> rest = {4, 5, 6};
  const std::vector<double> pairs = {1, 2, 3, 4, 5, 6, 7, nan};
  const std::vector<double> more_pairs = {9, 10, 11, 12, 13, 14};
  const std::vector<double> counts = {-1, 0, 1, 2};
  const std::vector<double> more_counts = {3, 4, 5};
  const std::vector<std::string> texts = {"a", "", "c", "\u00e4"};
  const std::vector<std::string> more_texts = {"e", "f", ""};
  stream.write(0, 0, first);
  stream.write(1, 0, pairs);
  stream.write(2, 0, counts);
  stream.write(3, 0, texts);
  stream.write(0, 4, rest);
  stream.write(1, 4, more_pairs);
  stream.write(2, 4, more_counts);
  stream.write(3, 4, more_texts);
  stream.finish();
}

TEST_F(ResultsFile, WhatIsStreamedReadsBackTheSame) {
  stream_seven(file("a.h5"));
  const Dataset data = read_results_file(file("a.h5"));
  ASSERT_NE(data.variable("number"), nullptr);
  EXPECT_EQ(data.variable("number")->values[0], 0.1);
  EXPECT_TRUE(std::isnan(data.variable("number")->values[1]));
  EXPECT_EQ(data.variable("number")->values[6], 6.0);
  EXPECT_EQ(data.variable("pair")->dimensions, (std::vector<std::string>{"row", "column"}));
  EXPECT_EQ(data.variable("pair")->values[13], 14.0);
  EXPECT_TRUE(std::isnan(data.variable("pair")->values[7]));
  EXPECT_EQ(data.variable("count")->values, (std::vector<double>{-1, 0, 1, 2, 3, 4, 5}));
  EXPECT_EQ(data.variable("text")->texts[3], "\u00e4");
  EXPECT_EQ(data.variable("text")->texts[4], "e");
  EXPECT_EQ(data.variable("words")->texts[1], "right");
  EXPECT_EQ(std::get<std::string>(read_results_attributes(file("a.h5")).front().second),
            "streamed");
}

TEST_F(ResultsFile, TheSameStreamGivesTheSameBytes) {
  stream_seven(file("a.h5"));
  stream_seven(file("b.h5"));
  EXPECT_EQ(bytes_of(file("a.h5")), bytes_of(file("b.h5")));
}

TEST_F(ResultsFile, AnUnfinishedStreamLeavesTheOldFileAndNoOther) {
  stream_seven(file("a.h5"));
  const std::string before = bytes_of(file("a.h5"));
  {
    ResultsStream stream(file("a.h5"), frame_of_seven(), streamed_variables(), 4);
    stream.write(0, 0, std::vector<double>{1, 2, 3, 4});
  }
  EXPECT_EQ(bytes_of(file("a.h5")), before);
  EXPECT_EQ(std::distance(fs::directory_iterator(folder_), fs::directory_iterator()), 1);
}

TEST_F(ResultsFile, StreamedRowsOfAnotherLengthAreRefused) {
  ResultsStream stream(file("a.h5"), frame_of_seven(), streamed_variables(), 4);
  EXPECT_THROW(stream.write(1, 0, std::vector<double>{1, 2, 3}), std::invalid_argument);
  EXPECT_THROW(ResultsStream(file("b.h5"), frame_of_seven(), {{"x", {"nowhere"}, {}}}, 4),
               std::invalid_argument);
  EXPECT_THROW(ResultsStream(file("b.h5"), frame_of_seven(), {{"words", {"row"}, {}}}, 4),
               std::invalid_argument);
}

TEST_F(ResultsFile, AFullDiskUnderAStreamIsToldAndLeavesTheOldFile) {
  stream_seven(file("a.h5"));
  const std::string before = bytes_of(file("a.h5"));
  const std::string message = error_under(
      allow_100_kB,
      [&] {
        constexpr std::size_t rows = 100'000;
        Dataset frame;
        frame.dimensions = {{"row", rows, {}, {}}};
        ResultsStream stream(file("a.h5"), frame, {{"number", {"row"}, {}}}, 4096);
        std::vector<double> values(rows);
        for (std::size_t i = 0; i < rows; ++i) {
          values[i] = std::sin(static_cast<double>(i)); // does not compress
        }
        stream.write(0, 0, values);
        stream.finish();
      },
      file("message"));
  EXPECT_THAT(message, AllOf(HasSubstr("a.h5"), HasSubstr("File too large"), HasSubstr("ulimit")));
  EXPECT_EQ(bytes_of(file("a.h5")), before);
  fs::remove(file("message"));
  EXPECT_EQ(std::distance(fs::directory_iterator(folder_), fs::directory_iterator()), 1);
}

TEST_F(ResultsFile, DamageIsFoundWhenAttributesAloneAreRead) {
  stream_seven(file("a.h5"));
  std::string bytes = bytes_of(file("a.h5"));
  bytes[bytes.size() / 2] = static_cast<char>(~bytes[bytes.size() / 2]);
  std::ofstream(file("a.h5"), std::ios::binary) << bytes;
  EXPECT_THROW((void)read_results_attributes(file("a.h5")), FileError);
  EXPECT_THROW((void)read_results_attributes(file("none.h5")), FileError);
}

} // namespace
} // namespace heapcast::engine
