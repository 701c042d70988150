// Correct controllers of every style pass, whatever the seed, the clocks, the phase and the receiver's frame.
#include <cstdio>
#include <mutex>
#include <thread>

#include "daemon/script/draw.hpp"
#include "daemon/script/load.hpp"
#include "tests/e2e/zoo.hpp"

namespace midstick::e2e {
namespace {

struct Tally {
  int runs{0}, checks{0}, passed{0}, failed{0}, inconclusive{0}, not_run{0};
  std::string told;
};

void add(Tally& tally, const std::string& where, const judge::RunResult& result) {
  ++tally.runs;
  for (const auto& c : result.checks) {
    if (!c.not_run.empty()) {
      ++tally.not_run;
      continue;
    }
    ++tally.checks;
    (c.verdict == judge::Verdict::pass ? tally.passed : c.verdict == judge::Verdict::fail ? tally.failed : tally.inconclusive)++;
    if (c.verdict == judge::Verdict::pass) continue;
    const std::string told = where + ": " + c.name + " " + judge::name(c.verdict) + ": " + c.summary + "\n";
    std::fputs(told.c_str(), stderr);
    tally.told += told;
  }
}

class Correct : public testing::TestWithParam<Build> {};

TEST_P(Correct, PassesTheWholeCatalogue) {
  const ScratchFolder scratch;
  const auto outcome = run_build(GetParam(), scratch / "run");
  ASSERT_TRUE(outcome.ok()) << outcome.error().message;
  ASSERT_FALSE(outcome->cut_short) << outcome->cut_short->message;
  EXPECT_EQ(outcome->result.verdict, judge::Verdict::pass) << verdicts(outcome->result);
}

INSTANTIATE_TEST_SUITE_P(All, Correct, testing::ValuesIn(zoo(true)), [](const auto& info) { return test_name(info.param.id); });

/// A plan like the catalogue with the receiver's frame changed, written beside the run.
std::filesystem::path plan_with_frame(const Build& build, const nlohmann::json& frame, const std::filesystem::path& into) {
  auto plan = nlohmann::json::parse(std::ifstream(build.plan), nullptr, true, true);
  plan["frame"] = frame;
  plan["mixer"] = build.mixer.string();
  plan["controller"] = build.controller.string();
  std::ofstream(into) << plan.dump(1);
  return into;
}

struct Night {
  Build build;
  std::uint64_t seed;
};

/// One catalogue run under conditions drawn by the seed. Its folder stays below build/zoo/correct unless everything passes.
void play(const Night& night, Tally& tally, std::mutex& mutex) {
  script::Draw draw(night.seed);
  engine::VirtualConditions conditions;
  conditions.board_ppm = static_cast<double>(draw.within(-5000, 5000));
  conditions.controller_ppm = static_cast<double>(draw.within(-5000, 5000));
  conditions.controller_phase_us = static_cast<double>(draw.within(0, 20'000));
  conditions.seed = night.seed;
  static const char* const kOrders[] = {"sequential", "reversed", "simultaneous"};
  nlohmann::json frame{{"period_us", draw.within(11, 25) * 1000}, {"dither_us", draw.within(0, 100)}, {"jitter_us", draw.within(0, 2)}};
  frame["order"] = kOrders[draw.within(0, 2)];
  const ScratchFolder scratch;
  Build build = night.build;
  build.plan = plan_with_frame(build, frame, scratch / "plan.json");
  const auto folder = source("build/zoo/correct") / (build.id + "-" + std::to_string(night.seed));
  std::filesystem::remove_all(folder);
  std::filesystem::create_directories(folder.parent_path());
  const auto outcome = run_build(build, folder, conditions, night.seed);
  const std::string where = build.id + " seed " + std::to_string(night.seed) + " board " + std::to_string(conditions.board_ppm) +
                            " ppm controller " + std::to_string(conditions.controller_ppm) + " ppm frame " + frame.dump();
  const std::scoped_lock lock(mutex);
  if (!outcome.ok())
    ADD_FAILURE() << where << ": " << outcome.error().message;
  else if (outcome->cut_short)
    ADD_FAILURE() << where << ": " << outcome->cut_short->message;
  else
    add(tally, where, outcome->result);
  if (outcome.ok() && outcome->result.verdict == judge::Verdict::pass) std::filesystem::remove_all(folder);
  std::fprintf(stderr, "%d runs, %d check runs, %d failed, %d inconclusive\n", tally.runs, tally.checks, tally.failed, tally.inconclusive);
}

/// MIDSTICK_CHECK_RUNS, MIDSTICK_FIRST_SEED: other numbers than 3000 check runs from seed 1.
std::uint64_t setting(const char* name, std::uint64_t otherwise) {
  const char* text = std::getenv(name);
  return text ? std::stoull(text) : otherwise;
}

TEST(SoakCorrect, NoneOfThreeThousandCheckRunsFails) {
  const auto builds = zoo(true);
  const int wanted = static_cast<int>(setting("MIDSTICK_CHECK_RUNS", 3000));
  std::atomic<std::uint64_t> next{setting("MIDSTICK_FIRST_SEED", 1)};
  Tally tally;
  std::mutex mutex;
  const auto work = [&] {
    for (;;) {
      {
        const std::scoped_lock lock(mutex);
        if (tally.checks >= wanted || testing::Test::HasFatalFailure()) return;
      }
      const std::uint64_t seed = next++;
      play({builds[seed % builds.size()], seed}, tally, mutex);
      if (testing::Test::HasFailure()) return;
    }
  };
  std::vector<std::thread> workers;
  for (unsigned i = 0; i < std::max(1u, std::thread::hardware_concurrency()); ++i) workers.emplace_back(work);
  for (auto& w : workers) w.join();
  std::printf("%d runs, %d check runs: %d passed, %d failed, %d inconclusive; %d not run\n%s", tally.runs, tally.checks, tally.passed,
              tally.failed, tally.inconclusive, tally.not_run, tally.told.c_str());
  EXPECT_EQ(tally.failed, 0);
  EXPECT_GE(tally.checks, wanted);
  EXPECT_GE(tally.passed * 100, tally.checks * 97) << "a bench that seldom decides is no bench";
}

}  // namespace
}  // namespace midstick::e2e
