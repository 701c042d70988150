// The program midstick-virtual as a user meets it: a process, its terminal, its link, its exit code.
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <filesystem>
#include <fstream>
#include <set>

#include "tests/virtual/support.hpp"

extern char** environ;

namespace midstick::virtual_bench {
namespace {

using Steady = std::chrono::steady_clock;
constexpr auto kPatience = std::chrono::seconds(20);  // only ever used up by a failure

/// A file descriptor that something may be read from, with a deadline.
class Reader {
 public:
  explicit Reader(int fd) : fd_(fd) {}
  ~Reader() { close(fd_); }
  Reader(const Reader&) = delete;
  Reader& operator=(const Reader&) = delete;
  int fd() const { return fd_; }

  /// Read until `enough` says so, or the other end is gone (then `gone` is set), or patience is over.
  template <class Enough>
  std::string read_until(Enough enough) {
    std::string got;
    const auto deadline = Steady::now() + kPatience;
    while (!enough(got) && !gone && Steady::now() < deadline) {
      pollfd wait{fd_, POLLIN, 0};
      poll(&wait, 1, 100);
      if (!wait.revents) continue;
      char buffer[256];
      const ssize_t count = ::read(fd_, buffer, sizeof buffer);
      if (count > 0)
        got.append(buffer, static_cast<std::size_t>(count));
      else if (count == 0 || (errno != EAGAIN && errno != EINTR))
        gone = true;
    }
    return got;
  }
  std::string bytes(std::size_t count) {
    return read_until([&](const std::string& s) { return s.size() >= count; });
  }
  bool gone{false};

 private:
  int fd_;
};

/// midstick-virtual running with some arguments; killed if it is still there at the end.
class Program {
 public:
  explicit Program(std::vector<std::string> arguments) {
    int out[2], err[2];
    if (pipe2(out, O_CLOEXEC) || pipe2(err, O_CLOEXEC)) std::abort();
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, out[1], 1);
    posix_spawn_file_actions_adddup2(&actions, err[1], 2);
    arguments.insert(arguments.begin(), PROGRAM);
    std::vector<char*> argv;
    for (auto& argument : arguments) argv.push_back(argument.data());
    argv.push_back(nullptr);
    if (posix_spawn(&pid_, PROGRAM, &actions, nullptr, argv.data(), environ)) std::abort();
    posix_spawn_file_actions_destroy(&actions);
    close(out[1]);
    close(err[1]);
    out_ = std::make_unique<Reader>(out[0]);
    err_ = std::make_unique<Reader>(err[0]);
  }
  ~Program() {
    if (pid_ <= 0) return;
    kill(pid_, SIGKILL);
    waitpid(pid_, nullptr, 0);
  }
  std::string line() {
    std::string text = out_->read_until([](const std::string& s) { return s.ends_with('\n'); });
    if (!text.empty()) text.pop_back();
    return text;
  }
  void interrupt() { kill(pid_, SIGINT); }
  /// Wait for the end; the exit code, or -1 for a signal.
  int end() {
    errors = err_->read_until([](const std::string&) { return false; });
    int status = 0;
    waitpid(pid_, &status, 0);
    pid_ = 0;
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  }
  std::string errors;

 private:
  pid_t pid_{0};
  std::unique_ptr<Reader> out_, err_;
};

std::unique_ptr<Reader> open_port(const std::string& path) {
  const int fd = open(path.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
  EXPECT_GE(fd, 0) << path;
  return std::make_unique<Reader>(fd);
}

void put(Reader& port, std::string_view text) {
  ASSERT_EQ(::write(port.fd(), text.data(), text.size()), static_cast<ssize_t>(text.size()));
}

class VirtualProgram : public testing::Test {
 protected:
  std::string folder_ = testing::TempDir() + "midstick-virtual-" + std::to_string(getpid()) + "-" +
                        testing::UnitTest::GetInstance()->current_test_info()->name();
  void SetUp() override { std::filesystem::create_directories(folder_); }
  void TearDown() override { std::filesystem::remove_all(folder_); }
};

TEST_F(VirtualProgram, EchoesOverItsTerminalAndEndsCleanlyOnCtrlC) {
  const std::string link = folder_ + "/bench";
  Program program({"--board", image("board_echo"), "--link", link});
  const std::string path = program.line();
  ASSERT_TRUE(path.starts_with("/dev/")) << path;
  EXPECT_EQ(std::filesystem::read_symlink(link), path);
  const auto port = open_port(link);
  const std::string all("\x00\x01\x03\x04\x0a\x0d\x11\x13\x1a\x7f\xff hello", 17);  // nothing may be lost to the line discipline
  put(*port, all);
  EXPECT_EQ(port->bytes(all.size()), all);
  program.interrupt();
  EXPECT_EQ(program.end(), 0) << program.errors;
  EXPECT_FALSE(std::filesystem::is_symlink(link));
}

TEST_F(VirtualProgram, UnpluggedTerminalHangsUpAndComesBackBehindTheSameLink) {
  const std::string link = folder_ + "/bench";
  Program program({"--board", image("board_echo"), "--link", link, "--fault", "unplug=2000:2300"});
  program.line();
  auto port = open_port(link);
  put(*port, "a");
  EXPECT_EQ(port->bytes(1), "a");
  port->bytes(1000);
  EXPECT_TRUE(port->gone);
  port.reset();
  ASSERT_TRUE(program.line().starts_with("/dev/"));
  port = open_port(link);
  put(*port, "b");
  EXPECT_EQ(port->bytes(1), "b");
}

TEST_F(VirtualProgram, RecordsTrueEdgesOfARunningController) {
  const std::string record = folder_ + "/truth.csv", description = folder_ + "/controller.json";
  std::ofstream(description) << R"({"format": "midstick controller 1", "name": "toggler", "image": ")" << image("toggler")
                             << R"(", "chip": "atmega328p", "clock_hz": 16000000,
                                   "inputs": [{"name": "throttle", "line": "S1", "pin": "PD2"}],
                                   "outputs": [{"name": "left", "line": "R1", "pin": "PB1"}]})";
  Program program({description, "--board", image("board_pulse"), "--truth", record});
  const auto port = open_port(program.line());
  EXPECT_GE(port->bytes(500).size(), 500u);  // captured edges
  program.interrupt();
  EXPECT_EQ(program.end(), 0) << program.errors;
  std::ifstream file(record);
  std::string line;
  std::getline(file, line);
  EXPECT_EQ(line, "wire,line,level,board_cycle,true_ps,source_ps,controller_cycle");
  std::set<std::string> wires;
  while (std::getline(file, line)) wires.insert(line.substr(0, line.find(',')));
  EXPECT_EQ(wires, (std::set<std::string>{"relay", "response", "stimulus"}));
}

TEST_F(VirtualProgram, DropsBytesAsToldAndSaysHowMany) {
  Program program({"--board", image("board_echo"), "--fault", "drop-to-board=1"});
  const auto port = open_port(program.line());
  put(*port, "xxxxx");
  const auto sent = Steady::now();
  while (Steady::now() - sent < std::chrono::milliseconds(50)) poll(nullptr, 0, 10);
  program.interrupt();
  EXPECT_EQ(program.end(), 0);
  EXPECT_NE(program.errors.find("to the board: 5 bytes, 0 flipped, 5 dropped"), std::string::npos) << program.errors;
}

TEST_F(VirtualProgram, BadUseAndBadFilesHaveTheirExitCodes) {
  Program nonsense({"--fault", "wobble=1"});
  EXPECT_EQ(nonsense.end(), 64);
  EXPECT_NE(nonsense.errors.find("wobble=1"), std::string::npos);
  Program pause({"--fault", "pause=1:2", "--board", image("board_echo")});
  EXPECT_EQ(pause.end(), 64);
  Program option({"--no-such-option"});
  EXPECT_EQ(option.end(), 64);
  Program missing({"--board", folder_ + "/none.elf"});
  EXPECT_EQ(missing.end(), 65);
  Program controller({folder_ + "/none.json", "--board", image("board_echo")});
  EXPECT_EQ(controller.end(), 65);
}

}  // namespace
}  // namespace midstick::virtual_bench
