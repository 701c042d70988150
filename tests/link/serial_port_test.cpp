// The serial driver on a pseudo-terminal: the far end is the test itself.
#include "daemon/link/serial_port.hpp"

#include <fcntl.h>
#include <gtest/gtest.h>
#include <stdlib.h>
#include <unistd.h>

#include <array>

#include "daemon/link/pump.hpp"
#include "tests/link/model_board.hpp"

namespace midstick::link::test {
namespace {

struct FarEnd {
  int fd = ::posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK);
  std::string path;
  FarEnd() {
    if (fd >= 0 && ::grantpt(fd) == 0 && ::unlockpt(fd) == 0) path = ::ptsname(fd);
  }
  ~FarEnd() { unplug(); }
  void unplug() {
    if (fd >= 0) ::close(fd);
    fd = -1;
  }
  bool say(const std::string& bytes) { return ::write(fd, bytes.data(), bytes.size()) == static_cast<ssize_t>(bytes.size()); }
};

struct OnPseudoTerminal : testing::Test {
  FarEnd far;
  std::unique_ptr<SerialPort> port;
  std::array<std::uint8_t, 64> bytes{};
  void SetUp() override {
    ASSERT_FALSE(far.path.empty());
    auto opened = SerialPort::open(far.path);
    ASSERT_TRUE(opened.ok()) << opened.error().message;
    port = opened.take();
  }
};

TEST_F(OnPseudoTerminal, EveryByteValuePassesUnchangedBothWays) {
  std::string all;
  for (int value = 0; value < 256; ++value) all.push_back(static_cast<char>(value));
  ASSERT_TRUE(port->write({reinterpret_cast<const std::uint8_t*>(all.data()), all.size()}).ok());
  std::string arrived(256, '\0');
  ASSERT_EQ(::read(far.fd, arrived.data(), 256), 256);
  EXPECT_EQ(arrived, all);
  ASSERT_TRUE(far.say(all));
  std::string back;
  while (back.size() < 256) {
    const auto got = port->read(bytes, port->now() + host_ms(1000));
    ASSERT_TRUE(got.ok());
    ASSERT_GT(*got, 0u);
    back.append(bytes.begin(), bytes.begin() + static_cast<std::ptrdiff_t>(*got));
  }
  EXPECT_EQ(back, all);
}

TEST_F(OnPseudoTerminal, ReadGivesNothingAtItsDeadline) {
  const HostTime deadline = port->now() + host_ms(5);
  const auto got = port->read(bytes, deadline);
  ASSERT_TRUE(got.ok());
  EXPECT_EQ(*got, 0u);
  EXPECT_GE(port->now(), deadline);
  EXPECT_TRUE(port->read(bytes, HostTime{0}).ok()) << "a deadline long past";
}

TEST_F(OnPseudoTerminal, BytesComeBeforeAFarDeadline) {
  ASSERT_TRUE(far.say("x"));
  const auto got = port->read(bytes, {std::numeric_limits<std::int64_t>::max()});
  ASSERT_TRUE(got.ok());
  EXPECT_EQ(*got, 1u);
}

TEST_F(OnPseudoTerminal, UnpluggedIsAnErrorAndStaysOne) {
  far.unplug();
  const auto got = port->read(bytes, port->now() + host_ms(1000));
  ASSERT_FALSE(got.ok());
  EXPECT_EQ(got.error().kind, ErrorKind::bench_missing);
  EXPECT_NE(got.error().message.find(far.path), std::string::npos) << got.error().message;
  EXPECT_FALSE(port->write(bytes).ok());
  EXPECT_FALSE(port->read(bytes, port->now()).ok());
}

TEST_F(OnPseudoTerminal, FarEndThatTakesNothingIsAnErrorNotAHang) {
  const std::vector<std::uint8_t> much(1 << 20, 7);
  const auto put = port->write(much);
  ASSERT_FALSE(put.ok());
  EXPECT_NE(put.error().message.find("takes no bytes"), std::string::npos) << put.error().message;
}

TEST_F(OnPseudoTerminal, IsReachedThroughASymbolicLink) {
  const std::string link = testing::TempDir() + "/bench-" + std::to_string(::getpid());
  ASSERT_EQ(::symlink("/dev/null", (link + "-null").c_str()), 0);
  EXPECT_FALSE(SerialPort::open(link + "-null").ok());
  FarEnd other;
  ASSERT_EQ(::symlink(other.path.c_str(), link.c_str()), 0);
  EXPECT_TRUE(SerialPort::open(link).ok());
  ::unlink(link.c_str());
  ::unlink((link + "-null").c_str());
}

TEST_F(OnPseudoTerminal, LinkGreetsAModelBoard) {
  Link link;
  ModelBoard board({}, port->now().count);
  link.open(port->now());
  for (int i = 0; i < 1000 && !link.ready() && !link.failed(); ++i) {
    ASSERT_TRUE(pump(link, *port, port->now() + host_ms(1)).ok());
    std::uint8_t byte = 0;
    while (::read(far.fd, &byte, 1) == 1) board.on_byte(byte, port->now().count);
    const auto out = board.take_output();
    ASSERT_TRUE(far.say(std::string(out.begin(), out.end())));
  }
  EXPECT_TRUE(link.ready());
}

TEST(SerialPort, MissingPortIsBenchMissingNamingIt) {
  const auto opened = SerialPort::open("/dev/no-such-port");
  ASSERT_FALSE(opened.ok());
  EXPECT_EQ(opened.error().kind, ErrorKind::bench_missing);
  EXPECT_NE(opened.error().message.find("/dev/no-such-port"), std::string::npos) << opened.error().message;
}

TEST(SerialPort, PlainFileIsNotAPort) { EXPECT_FALSE(SerialPort::open("/dev/null").ok()); }

TEST(SerialPort, ListingIsSortedByPath) {
  const auto names = list_ports();
  EXPECT_TRUE(std::is_sorted(names.begin(), names.end(), [](const auto& a, const auto& b) { return a.path < b.path; }));
}

}  // namespace
}  // namespace midstick::link::test
