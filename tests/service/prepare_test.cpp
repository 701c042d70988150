#include "daemon/service/prepare.hpp"

#include <gtest/gtest.h>
#include <poll.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <fstream>
#include <sstream>
#include <thread>

namespace midstick::service {
namespace {

namespace fs = std::filesystem;

class Prepare : public ::testing::Test {
 protected:
  Prepare() : folder_(fs::path(::testing::TempDir()) / ("prepare-" + std::to_string(::getpid()))) { fs::create_directories(folder_); }
  ~Prepare() override { fs::remove_all(folder_); }

  Status run(std::vector<std::string> command, int limit_s = 20) {
    return prepare({std::move(command), folder_, limit_s}, {{"bench", "left desk; rm"}, {"build", "night-7"}, {"port", "/dev/ttyACM0"}},
                   folder_ / "log", stop_);
  }
  std::string log() const {
    std::ifstream in(folder_ / "log");
    return (std::stringstream() << in.rdbuf()).str();
  }

  fs::path folder_;
  std::atomic<bool> stop_{false};
};

TEST_F(Prepare, WhatItPrintsIsKept) {
  EXPECT_TRUE(run({"sh", "-c", "echo out; echo err >&2; pwd"}).ok());
  EXPECT_EQ(log(), "out\nerr\n" + fs::canonical(folder_).string() + "\n");
}

TEST_F(Prepare, WordsAreFilledInAsOneArgumentEachAndNoShellReadsThem) {
  EXPECT_TRUE(run({"printf", "%s|%s|%s", "{bench}", "{build}", "a {port} b"}).ok());
  EXPECT_EQ(log(), "left desk; rm|night-7|a /dev/ttyACM0 b");
}

TEST_F(Prepare, AnExitCodeIsAFailureThatNamesTheLog) {
  const auto s = run({"sh", "-c", "exit 3"});
  ASSERT_FALSE(s.ok());
  EXPECT_NE(s.error().message.find("exit code 3"), std::string::npos);
  EXPECT_NE(s.error().message.find((folder_ / "log").string()), std::string::npos);
}

TEST_F(Prepare, AProgramThatIsNotThereIsSaid) {
  const auto s = run({"no-such-flasher"});
  ASSERT_FALSE(s.ok());
  EXPECT_NE(s.error().message.find("could not be started"), std::string::npos) << s.error().message;
}

TEST_F(Prepare, OneThatHangsIsKilledWithAllItStarted) {
  // The child left behind would write after its time; it must be gone with its parent.
  const auto s = run({"sh", "-c", "(while :; do :; done) & echo $!; wait"}, 1);
  ASSERT_FALSE(s.ok());
  EXPECT_NE(s.error().message.find("longer than 1 s"), std::string::npos) << s.error().message;
  const int grandchild = std::stoi(log());
  // The signal is sent when prepare() returns, but a processor may still be taking the last steps of the one killed: its end is waited for.
  // Without the signal it would loop for ever, and this wait would run out.
  const int pidfd = static_cast<int>(::syscall(SYS_pidfd_open, grandchild, 0));
  if (pidfd < 0) {
    EXPECT_EQ(errno, ESRCH);  // gone and collected
    return;
  }
  constexpr int kWaitMs = 10'000;  // only so that a failing test ends
  pollfd end{pidfd, POLLIN, 0};
  const bool over = ::poll(&end, 1, kWaitMs) == 1;
  ::close(pidfd);
  if (!over) ::kill(grandchild, SIGKILL);
  EXPECT_TRUE(over) << "process " << grandchild << " still runs";
}

TEST_F(Prepare, AStopEndsItAtOnce) {
  std::jthread person([this] { stop_ = true; });
  const auto s = run({"sh", "-c", "while :; do :; done"}, 600);
  ASSERT_FALSE(s.ok());
  EXPECT_EQ(s.error().kind, ErrorKind::stopped);
}

}  // namespace
}  // namespace midstick::service
