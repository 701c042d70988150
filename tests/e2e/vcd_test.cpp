// capture.vcd read by sigrok-cli gives the widths that report.json states, within its sample step.
//
// sigrok-cli's exit code says nothing (it is 0 for almost any input); its output and its standard error do.
#include <array>
#include <cstdio>
#include <fstream>
#include <sstream>

#include "tests/e2e/whole_run.hpp"

namespace midstick::e2e {
namespace {

std::string output_of(const std::string& command) {
  std::string text;
  std::array<char, 4096> part{};
  FILE* pipe = ::popen(command.c_str(), "r");
  if (!pipe) return text;
  while (const std::size_t n = std::fread(part.data(), 1, part.size(), pipe)) text.append(part.data(), n);
  ::pclose(pipe);
  return text;
}

/// High times of one wire in us as sigrok's pwm decoder sees them: duty cycle times period, with sample numbers of 100 ns.
struct DecodedPulse {
  double start_us, width_us;
};
std::vector<DecodedPulse> decoded(const std::filesystem::path& vcd, const std::string& wire) {
  std::vector<DecodedPulse> pulses;
  std::istringstream lines(output_of("sigrok-cli -I vcd:skip=0 -i '" + vcd.string() + "' -P pwm:data=" + wire +
                                     " -A pwm=duty-cycle --protocol-decoder-samplenum 2>&1"));
  for (std::string line; std::getline(lines, line);) {
    double from = 0, to = 0, percent = 0;
    EXPECT_EQ(std::sscanf(line.c_str(), "%lf-%lf pwm-1: %lf%%", &from, &to, &percent), 3) << "sigrok-cli said: " << line;
    pulses.push_back({from / 10, (to - from) / 10 * percent / 100});
  }
  return pulses;
}

TEST(CaptureVcd, SigrokReadsTheWidthsThatTheReportStates) {
  const ScratchFolder scratch;
  // The build whose neutral is 8 us off, so that the number compared is not the one everybody expects.
  const auto outcome =
      run_on_virtual(source("tests/e2e/neutral-only.json"), source("build/images/drive-neutral-offset.json"), scratch / "run");
  ASSERT_TRUE(outcome.ok()) << outcome.error().message;
  const auto report = nlohmann::json::parse(outcome->report_json);
  const auto& check = report.at("checks").at(0);
  const auto& span = check.at("evidence").at(0);
  const double from = span.at("begin").at("us"), to = span.at("end").at("us");
  int compared = 0;
  for (const auto& measure : check.at("measures"))
    for (const std::string wire : {"left", "right"}) {
      if (measure.at("name").get<std::string>() != wire + " mean off neutral") continue;
      double sum = 0;
      int n = 0;
      for (const auto& pulse : decoded(scratch / "run" / "capture.vcd", wire))
        if (pulse.start_us >= from && pulse.start_us < to) sum += pulse.width_us, ++n;
      ASSERT_GT(n, 50) << wire;
      const double stated = 1500.0 + measure.at("measured").get<double>();
      EXPECT_GT(stated, 1505) << "not the build that is off";
      EXPECT_NEAR(sum / n, stated, 0.1) << wire << ": sigrok's mean of " << n << " widths, sample step 0.1 us, against the report";
      ++compared;
    }
  EXPECT_EQ(compared, 2);
}

}  // namespace
}  // namespace midstick::e2e
