// A kill at any instant leaves no run, or a run marked incomplete, or a complete one. Shown by killing at every system call.
#include "daemon/store/run_folder.hpp"

#include <gtest/gtest.h>
#include <signal.h>
#include <sys/ptrace.h>
#include <sys/wait.h>
#include <unistd.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "daemon/store/files.hpp"

namespace midstick::store {
namespace {

namespace fs = std::filesystem;

fs::path fresh_folder() {
  std::string pattern = (fs::temp_directory_path() / "midstick-store-XXXXXX").string();
  return ::mkdtemp(pattern.data());
}

/// Everything a run writes, in order.
bool write_whole_run(const fs::path& path) {
  auto folder = RunFolder::create(path, {{"started", "2026-01-01T00:00:00"}});
  if (!folder) return false;
  capture::Capture c;
  c.complete = true;
  return folder->write_plan({{"name", "nightly"}}).ok() && folder->write_capture(c).ok() && replace_file(path / "report.json", "{}").ok() &&
         folder->complete().ok();
}

/// Runs write_whole_run in a child and kills it at its `stop`-th system call. Returns false when it ended before that.
bool killed_at_call(const fs::path& path, int stop) {
  const pid_t child = ::fork();
  if (child == 0) {
    ::ptrace(PTRACE_TRACEME, 0, nullptr, nullptr);
    ::raise(SIGSTOP);
    ::_exit(write_whole_run(path) ? 0 : 1);
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  for (int call = 0; call < stop; ++call) {
    ::ptrace(PTRACE_SYSCALL, child, nullptr, nullptr);
    ::waitpid(child, &status, 0);
    if (WIFEXITED(status)) {
      EXPECT_EQ(WEXITSTATUS(status), 0);
      return false;
    }
  }
  ::kill(child, SIGKILL);
  ::waitpid(child, &status, 0);
  return true;
}

TEST(RunFolder, KillAtEverySystemCallLeavesNoRunOrAMarkedOne) {
  const fs::path base = fresh_folder();
  int none = 0, incomplete = 0, complete = 0, stop = 1;
  for (;; ++stop) {
    const fs::path path = base / ("run-" + std::to_string(stop));
    const bool killed = killed_at_call(path, stop);
    if (!fs::exists(path)) {
      ++none;
    } else {
      ASSERT_TRUE(fs::exists(path / "run.json")) << "killed at call " << stop;
      const auto run = read_run(path);
      const auto text = read_file(path / "run.json", 1 << 20);
      ASSERT_TRUE(text.ok());
      const bool marked_complete = nlohmann::json::parse(text.value()).at("state") == "complete";
      if (marked_complete) {
        ++complete;
        ASSERT_TRUE(run.ok()) << run.error().message;
        EXPECT_TRUE(fs::exists(path / "report.json"));
      } else {
        ++incomplete;
        if (run.ok()) {
          EXPECT_FALSE(run->complete);
        }
      }
    }
    if (!killed) break;
  }
  // Each of the three states must have been met, or the test looked at nothing.
  EXPECT_GT(none, 0);
  EXPECT_GT(incomplete, 10);
  EXPECT_GT(complete, 0);
  fs::remove_all(base);
}

TEST(RunFolder, AFolderWithThingsInItIsNotTouched) {
  const fs::path base = fresh_folder();
  ASSERT_TRUE(replace_file(base / "mine.txt", "keep").ok());
  const auto folder = RunFolder::create(base, nlohmann::json::object());
  ASSERT_FALSE(folder.ok());
  EXPECT_EQ(folder.error().kind, ErrorKind::usage);
  EXPECT_EQ(read_file(base / "mine.txt", 100).value(), "keep");
  fs::remove_all(base);
}

TEST(RunFolder, AnythingElseIsNotARun) {
  const fs::path base = fresh_folder();
  const auto run = read_run(base);
  ASSERT_FALSE(run.ok());
  EXPECT_EQ(run.error().kind, ErrorKind::bad_file);
  fs::remove_all(base);
}

}  // namespace
}  // namespace midstick::store
