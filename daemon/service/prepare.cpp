#include "daemon/service/prepare.hpp"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <cstring>
#include <vector>

namespace midstick::service {
namespace {

std::string filled(std::string text, const std::map<std::string, std::string>& words) {
  for (const auto& [word, value] : words) {
    const std::string hole = "{" + word + "}";
    for (std::size_t at = text.find(hole); at != std::string::npos; at = text.find(hole, at + value.size()))
      text.replace(at, hole.size(), value);
  }
  return text;
}

/// Only calls that are allowed between fork and exec.
[[noreturn]] void become(const char* folder, char* const* arguments, int log, int report) {
  ::setpgid(0, 0);
  sigset_t none;
  ::sigemptyset(&none);
  ::sigprocmask(SIG_SETMASK, &none, nullptr);
  const int nothing = ::open("/dev/null", O_RDONLY | O_CLOEXEC);
  if (::chdir(folder) == 0 && ::dup2(nothing, 0) >= 0 && ::dup2(log, 1) >= 0 && ::dup2(log, 2) >= 0) ::execvp(arguments[0], arguments);
  const int why = errno;
  [[maybe_unused]] const auto written = ::write(report, &why, sizeof why);
  ::_exit(127);
}

/// Waits for the child; nothing: time over or stopped, and the group is killed.
bool ended(int pidfd, int limit_s, const std::atomic<bool>& stop) {
  using Clock = std::chrono::steady_clock;
  constexpr int kLookMs = 100;  // how soon a stop is seen
  const auto until = Clock::now() + std::chrono::seconds(limit_s);
  while (Clock::now() < until && !stop) {
    pollfd one{pidfd, POLLIN, 0};
    if (::poll(&one, 1, kLookMs) > 0) return true;
  }
  return false;
}

}  // namespace

Status prepare(const PrepareConfig& config, const std::map<std::string, std::string>& words, const std::filesystem::path& log_path,
               const std::atomic<bool>& stop) {
  std::vector<std::string> texts;
  for (const auto& word : config.command) texts.push_back(filled(word, words));
  std::vector<char*> arguments;
  for (auto& t : texts) arguments.push_back(t.data());
  arguments.push_back(nullptr);
  const auto failed = [&](const std::string& what) {
    return Error{ErrorKind::bench_unfit, "the prepare command \"" + texts[0] + "\" " + what + "; its output: " + log_path.string()};
  };
  const int log = ::open(log_path.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644);
  if (log < 0) return Error{ErrorKind::io, log_path.string() + ": " + std::strerror(errno)};
  int report[2];
  if (::pipe2(report, O_CLOEXEC) != 0) return ::close(log), failed(std::string("could not be started: ") + std::strerror(errno));
  const pid_t child = ::fork();
  if (child == 0) become(config.folder.c_str(), arguments.data(), log, report[1]);
  ::close(log), ::close(report[1]);
  int why = child < 0 ? errno : 0;
  if (child > 0 && ::read(report[0], &why, sizeof why) != sizeof why) why = 0;
  ::close(report[0]);
  if (child < 0) return failed(std::string("could not be started: ") + std::strerror(why));
  ::setpgid(child, child);  // whoever is first; then killing the group cannot miss
  const int pidfd = static_cast<int>(::syscall(SYS_pidfd_open, child, 0));
  const bool in_time = ended(pidfd, config.limit_s, stop);
  ::kill(-child, SIGKILL);  // also whatever it left running in its group
  int status = 0;
  while (::waitpid(child, &status, 0) < 0 && errno == EINTR) {
  }
  if (pidfd >= 0) ::close(pidfd);
  if (why != 0) return failed(std::string("could not be started: ") + std::strerror(why));
  if (stop) return Error{ErrorKind::stopped, "stopped while the prepare command ran"};
  if (!in_time) return failed("took longer than " + std::to_string(config.limit_s) + " s and was killed");
  if (WIFSIGNALED(status)) return failed("was ended by signal " + std::to_string(WTERMSIG(status)));
  if (WEXITSTATUS(status) != 0) return failed("ended with exit code " + std::to_string(WEXITSTATUS(status)));
  return Ok{};
}

}  // namespace midstick::service
