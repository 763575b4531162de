// The program as people run it: a process of its own, its streams, its exit code and what it
// leaves. Shared by the tests of commands.
#pragma once

#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <stdexcept>
#include <string>
#include <vector>

#include <fcntl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

namespace heapcast::tests {

namespace fs = std::filesystem;

inline std::string bytes_of_file(const fs::path& path) {
  std::ifstream stream(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

/// A started program; its streams go to files of the folder.
struct Process {
  pid_t id = -1;
  int status = 0;

  void wait() { ::waitpid(id, &status, 0); }
  [[nodiscard]] int exit_code() const { return WIFEXITED(status) ? WEXITSTATUS(status) : -1; }
};

/// Runs the program in a process of its own, with an empty folder for what it writes.
class Program : public testing::Test {
protected:
  Program() {
    std::string name = (fs::temp_directory_path() / "commands_XXXXXX").string();
    if (mkdtemp(name.data()) == nullptr) {
      throw std::runtime_error("no temporary folder");
    }
    folder_ = name;
    fs::create_directory(folder_ / "results");
  }
  ~Program() override { fs::remove_all(folder_); }

  /// Starts the program; `file_limit` bytes is the largest file it may write, 0 for no limit.
  [[nodiscard]] Process start(std::vector<std::string> words, rlim_t file_limit = 0) const {
    words.insert(words.begin(), HEAPCAST_BINARY);
    std::vector<char*> argv;
    argv.reserve(words.size() + 1);
    for (std::string& word : words) {
      argv.push_back(word.data());
    }
    argv.push_back(nullptr);
    const std::string out = folder_ / "out";
    const std::string err = folder_ / "err";
    Process process;
    process.id = ::fork();
    if (process.id == 0) {
      const int out_fd = ::open(out.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
      const int err_fd = ::open(err.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
      ::dup2(::open("/dev/null", O_RDONLY), STDIN_FILENO);
      ::dup2(out_fd, STDOUT_FILENO);
      ::dup2(err_fd, STDERR_FILENO);
      if (!works_in_.empty() && ::chdir(works_in_.c_str()) != 0) {
        ::_exit(127);
      }
      if (file_limit > 0) {
        const rlimit limit{file_limit, file_limit};
        ::setrlimit(RLIMIT_FSIZE, &limit);
      }
      ::execv(argv[0], argv.data());
      ::_exit(127);
    }
    return process;
  }

  [[nodiscard]] int run(const std::vector<std::string>& words, rlim_t file_limit = 0) const {
    Process process = start(words, file_limit);
    process.wait();
    return process.exit_code();
  }

  [[nodiscard]] std::string out() const { return bytes_of_file(folder_ / "out"); }
  [[nodiscard]] std::string err() const { return bytes_of_file(folder_ / "err"); }
  [[nodiscard]] std::string result(const std::string& name) const {
    return folder_ / "results" / name;
  }
  [[nodiscard]] bool nothing_left() const { return fs::is_empty(folder_ / "results"); }

  fs::path folder_;
  fs::path works_in_; ///< where the program is started; empty: where the tests are
};

} // namespace heapcast::tests
