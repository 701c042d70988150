// A child program with its output in a file, for tests: start, signal, wait with a deadline. No sleeping: waits block in poll() on the
// child's pidfd.
#pragma once

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

namespace midstick::e2e {

class Process {
 public:
  /// Starts `argv[0]`; both output streams go to `output`.
  Process(const std::vector<std::string>& argv, std::filesystem::path output) : output_(std::move(output)) {
    child_ = ::fork();
    if (child_ == 0) {
      const int fd = ::open(output_.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
      const int nothing = ::open("/dev/null", O_RDONLY);
      ::dup2(nothing, 0);
      ::dup2(fd, 1);
      ::dup2(fd, 2);
      std::vector<char*> args;
      for (const auto& a : argv) args.push_back(const_cast<char*>(a.c_str()));
      args.push_back(nullptr);
      ::execv(args[0], args.data());
      ::_exit(127);
    }
    pidfd_ = static_cast<int>(::syscall(SYS_pidfd_open, child_, 0));
  }
  ~Process() {
    if (!done_) {
      ::kill(child_, SIGKILL);
      ::waitpid(child_, nullptr, 0);
    }
    ::close(pidfd_);
  }
  Process(const Process&) = delete;
  Process& operator=(const Process&) = delete;

  void signal(int number) const { ::kill(child_, number); }
  /// Exit code, or -1 when it is still running after `ms`, -2 when a signal ended it.
  int wait(int ms) {
    pollfd p{pidfd_, POLLIN, 0};
    if (!done_ && ::poll(&p, 1, ms) == 1) {
      ::waitpid(child_, &status_, 0);
      done_ = true;
    }
    if (!done_) return -1;
    return WIFEXITED(status_) ? WEXITSTATUS(status_) : -2;
  }
  std::string output() const {
    std::ifstream in(output_);
    return {std::istreambuf_iterator<char>(in), {}};
  }
  /// Wait until `text` is in the output; false after `ms` or when the program has ended without it.
  bool says(const std::string& text, int ms) {
    for (int waited = 0; waited <= ms; waited += 10) {
      if (output().find(text) != std::string::npos) return true;
      if (wait(10) != -1) return output().find(text) != std::string::npos;
    }
    return false;
  }

 private:
  std::filesystem::path output_;
  pid_t child_{-1};
  int pidfd_{-1};
  int status_{0};
  bool done_{false};
};

}  // namespace midstick::e2e
