// capture.vcd as sigrok-cli reads it: a program we did not write must find the widths that are in the capture.
//
// sigrok-cli exits 0 whatever happens, so anything but result lines counts as a failure. Sample numbers are 100 ns steps from time 0 with
// skip=0.
#include <gtest/gtest.h>

#include <cmath>
#include <sstream>
#include <vector>

#include "daemon/report/vcd.hpp"
#include "tests/report/world.hpp"

namespace midstick::report {
namespace {

struct Stretch {
  long long from, to;
};

std::string sigrok(const std::string& file, const std::string& decoder) {
  const auto ran = test::run_command("sigrok-cli -i " + file + " -I vcd:skip=0 " + decoder + " --protocol-decoder-samplenum");
  EXPECT_EQ(ran.exit_code, 0) << ran.output;
  return ran.output;
}

/// "14988-200000 timing-1: 18.501 ms (54.051 Hz)": the sample numbers.
std::vector<Stretch> stretches(const std::string& output) {
  std::vector<Stretch> found;
  std::istringstream lines(output);
  for (std::string line; std::getline(lines, line);) {
    Stretch s{};
    if (std::sscanf(line.c_str(), "%lld-%lld", &s.from, &s.to) == 2)
      found.push_back(s);
    else
      ADD_FAILURE() << "not a result: " << line;
  }
  return found;
}

/// Time of each edge of a line in exact 100 ns steps, straight from the capture.
std::vector<double> edge_steps(const std::vector<capture::Edge>& edges, std::uint8_t line, const capture::Capture& capture) {
  std::vector<double> steps;
  for (const auto& e : edges)
    if (e.line == line) steps.push_back(capture.clock.us(e.at - capture.begin) * 10);
  return steps;
}

class VcdInSigrok : public ::testing::Test {
 protected:
  VcdInSigrok() : world_(test::mower_world(4)) {
    file_ = folder_.write("capture.vcd", capture_vcd(world_.capture, world_.plan.controller, world_.plan.name, world_.facts.started));
  }
  test::World world_;
  test::TempFolder folder_;
  std::string file_;
};

TEST_F(VcdInSigrok, TimingDecoderGivesEveryWidthAndGapWithinOneSample) {
  struct Line {
    const char* name;
    const std::vector<capture::Edge>& edges;
    std::uint8_t line;
  };
  for (const auto& [name, edges, line] : {Line{"throttle", world_.capture.stimulus, 0}, Line{"steering", world_.capture.stimulus, 1},
                                          Line{"left", world_.capture.response, 0}, Line{"right", world_.capture.response, 2}}) {
    const auto expected = edge_steps(edges, line, world_.capture);
    const auto found = stretches(sigrok(file_, std::string("-P timing:data=") + name + " -A timing=time"));
    ASSERT_EQ(found.size() + 1, expected.size()) << name;
    ASSERT_GT(found.size(), 100U) << name;
    for (std::size_t i = 0; i < found.size(); ++i)
      ASSERT_NEAR(static_cast<double>(found[i].to - found[i].from), expected[i + 1] - expected[i], 1.0) << name << " stretch " << i;
  }
}

TEST_F(VcdInSigrok, PwmDecoderGivesWidthAsDutyTimesPeriod) {
  const auto edges = edge_steps(world_.capture.stimulus, 1, world_.capture);
  std::istringstream lines(sigrok(file_, "-P pwm:data=steering -A pwm=duty-cycle"));
  std::size_t pulse = 0;
  for (std::string line; std::getline(lines, line); ++pulse) {
    long long from = 0;
    long long to = 0;
    double percent = 0;
    ASSERT_EQ(std::sscanf(line.c_str(), "%lld-%lld pwm-1: %lf%%", &from, &to, &percent), 3) << line;
    const double width = edges[2 * pulse + 1] - edges[2 * pulse];
    // The decoder prints six decimals of a percent: 0.001 samples of a 20 ms period.
    ASSERT_NEAR(percent / 100 * static_cast<double>(to - from), width, 1.01) << "pulse " << pulse;
  }
  EXPECT_EQ(pulse, edges.size() / 2 - 1);  // a period needs the next rising edge
}

TEST_F(VcdInSigrok, RuntOfTwoAndAHalfMicrosecondsIsThere) {
  const auto found = stretches(sigrok(file_, "-P timing:data=left -A timing=time"));
  ASSERT_FALSE(found.empty());
  EXPECT_EQ(found[0].to - found[0].from, 25);  // 40 ticks on a clock 812 ppm fast: 2.498 us
}

}  // namespace
}  // namespace midstick::report
