// Serial faults on a pseudo-terminal, in real time, program against program: `midstick run` and `midstick-virtual`.
//
// Bytes flipped, dropped, doubled; the device unplugged (and back); the host program stopped for 3 s; the board reset in mid-run. Never a
// pass on missing data, pulses and power off within the stated time by the bench's own record of true edges, a reason in words, no hang.
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <random>
#include <sstream>

#include "daemon/engine/player.hpp"
#include "tests/e2e/process.hpp"
#include "tests/e2e/scratch_folder.hpp"

namespace midstick::e2e {
namespace {

const std::string kBin = std::string(MIDSTICK_BIN) + "/";
const std::string kMower = std::string(MIDSTICK_SOURCE) + "/fixtures/mower/";
constexpr int kPatience = 60'000;  // ms; a run takes about 11 s

struct Schedule {
  std::vector<std::string> faults;
  bool breaks_the_run{false};  ///< unplug, reset or stop loop: no pass is possible
  bool stops_the_host{false};
  double at_ms{0};
};

Schedule draw(int seed) {
  std::mt19937 random(static_cast<unsigned>(seed));
  const auto up_to = [&random](unsigned n) { return random() % n; };
  Schedule s;
  s.at_ms = 3000 + up_to(6000);  // in the midst of the run
  const auto at = std::to_string(static_cast<int>(s.at_ms));
  switch (seed % 5) {
    case 0:
      s.faults = {"unplug=" + at}, s.breaks_the_run = true;
      break;
    case 1:
      s.faults = {"unplug=" + at + ":" + std::to_string(static_cast<int>(s.at_ms) + 300)}, s.breaks_the_run = true;
      break;
    case 2:
      s.faults = {"board-reset=" + at}, s.breaks_the_run = true;
      break;
    case 3:
      s.stops_the_host = true;
      break;
    default: {
      const char* kinds[] = {"flip", "drop", "twice"};
      for (const char* kind : kinds)
        if (up_to(2) || kind == kinds[0]) s.faults.push_back(std::string(kind) + "=" + std::to_string(1e-5 * (1 + up_to(100))));
    }
  }
  return s;
}

/// From the bench's own record: when each wire was last high, ms; stimulus lines and relay.
struct Truth {
  double last_high_end_ms{0};
  bool high_at_end{false};
  int edges{0};
};
Truth read_truth(const std::filesystem::path& csv) {
  Truth truth;
  std::map<std::string, bool> level;
  std::ifstream in(csv);
  std::string line;
  std::getline(in, line);  // header
  while (std::getline(in, line)) {
    std::istringstream row(line);
    std::string wire, number, high, cycle, ps;
    std::getline(row, wire, ',');
    std::getline(row, number, ',');
    std::getline(row, high, ',');
    std::getline(row, cycle, ',');
    std::getline(row, ps, ',');
    if (wire != "stimulus" && wire != "relay") continue;
    ++truth.edges;
    level[wire + number] = high == "1";
    truth.last_high_end_ms = std::stod(ps) / 1e9;
  }
  for (const auto& [name, high] : level) truth.high_at_end = truth.high_at_end || high;
  return truth;
}

class PtyFaults : public testing::TestWithParam<int> {};

TEST_P(PtyFaults, NeverAPassOnMissingDataAndAlwaysSafe) {
  const Schedule schedule = draw(GetParam());
  const ScratchFolder scratch;
  const auto port = (scratch / "bench").string(), truth_file = (scratch / "truth.csv").string();
  std::vector<std::string> argv{kBin + "midstick-virtual", kMower + "controller.json", "--link", port, "--truth", truth_file, "--seed",
                                std::to_string(GetParam())};
  for (const auto& f : schedule.faults) argv.insert(argv.end(), {"--fault", f});
  Process bench(argv, scratch / "bench-output");
  ASSERT_TRUE(bench.says("/dev/pts/", 20'000)) << bench.output();
  Process run({kBin + "midstick", "run", std::string(MIDSTICK_SOURCE) + "/tests/e2e/short.json", "--bench", "serial:" + port, "--out",
               (scratch / "run").string()},
              scratch / "output");
  double stopped_at_ms = 0;
  if (schedule.stops_the_host) {
    ASSERT_EQ(run.wait(static_cast<int>(schedule.at_ms)), -1) << run.output();
    run.signal(SIGSTOP);
    stopped_at_ms = schedule.at_ms;
    ASSERT_EQ(bench.wait(3000), -1) << bench.output();  // 3 s in which the host says nothing
    run.signal(SIGCONT);
  }
  const int code = run.wait(kPatience);
  EXPECT_TRUE(code == 0 || code == 2 || code == 3) << code << "\n" << run.output();
  if (code == 3) {
    EXPECT_NE(run.output().find("midstick: "), std::string::npos) << "no reason given";
  }
  if (schedule.breaks_the_run || schedule.stops_the_host) {
    EXPECT_EQ(code, 3) << run.output();
  }
  std::ifstream state(scratch / "run" / "run.json");
  if (state) {
    EXPECT_EQ(nlohmann::json::parse(state).at("state") == "complete", code != 3) << run.output();
  }
  EXPECT_EQ(bench.wait(engine::kRefreshMs + 500), -1) << bench.output();  // the board's own time to go safe
  bench.signal(SIGINT);
  EXPECT_EQ(bench.wait(10'000), 0) << bench.output();
  const Truth truth = read_truth(truth_file);
  EXPECT_GT(truth.edges, 10) << "nothing was played at all";
  EXPECT_FALSE(truth.high_at_end) << "a stimulus line or controller power was left on";
  // The bench's clock starts before the programs are up, and a busy machine lets it slip: half a second for that.
  const double given_ms = engine::kRefreshMs + 10.0 + 500.0;
  if (schedule.breaks_the_run) {
    EXPECT_LE(truth.last_high_end_ms, schedule.at_ms + given_ms);
  }
  if (schedule.stops_the_host) {
    EXPECT_LE(truth.last_high_end_ms, stopped_at_ms + 2000 + given_ms) << "2 s: the host was started that much after the bench, at most";
  }
}

INSTANTIATE_TEST_SUITE_P(First, PtyFaults, testing::Values(0, 2, 3, 4));
INSTANTIATE_TEST_SUITE_P(Soak, PtyFaults, testing::Range(0, 20));

}  // namespace
}  // namespace midstick::e2e
