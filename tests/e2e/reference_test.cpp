// A pulse a second on a capture line, put there by the virtual bench: what the board's clock and the host's are worth against it.
#include "daemon/engine/reference.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "fixtures/virtual/bench.hpp"

namespace midstick::e2e {
namespace {

constexpr double kBoardPpm = 2750;

/// Rises one true second apart, stretched by a reference that is slow by `slow_ppm`.
std::vector<virtual_bench::InjectedEdge> pulses(int count, std::uint8_t line, double slow_ppm) {
  std::vector<virtual_bench::InjectedEdge> edges;
  for (int i = 0; i < count; ++i) {
    const auto at = std::llround((4 + i * (1 + slow_ppm / 1e6)) * 1e12);
    edges.push_back({at, line, true});
    edges.push_back({at + 100'000'000'000, line, false});
  }
  return edges;
}

Result<engine::ReferenceReport> held_against(int count, std::uint8_t line, double slow_ppm) {
  virtual_bench::VirtualBenchOptions options;
  options.board_ppm = kBoardPpm;
  auto bench = virtual_bench::VirtualBench::make(options);
  EXPECT_TRUE(bench.ok()) << bench.error().message;
  EXPECT_TRUE((*bench)->inject(pulses(count, line, slow_ppm)).ok());
  static const std::atomic<bool> never{false};
  engine::Session session(**bench, never);
  EXPECT_TRUE(session.open().ok());
  EXPECT_TRUE(session.settle_clock(engine::kClockPpm, engine::kClockPatience).ok());
  return engine::hold_against_reference(session, line, 20);
}

TEST(ReferenceOnTheBench, AgreesWithTheEstimatorWhenTheHostIsRight) {
  for (const char* name : {"R1", "R2", "P1"}) {
    const auto report = held_against(30, *engine::capture_line(name), 0);
    ASSERT_TRUE(report.ok()) << name << ": " << report.error().message;
    EXPECT_GE(report->board.pulses, 15) << name;
    EXPECT_NEAR(report->board.board_ppm, kBoardPpm, report->board.uncertainty_ppm) << name;
    EXPECT_NEAR(report->host_ppm, 0, report->host_uncertainty_ppm) << name;
    EXPECT_LT(report->host_uncertainty_ppm, 20) << name;
  }
}

TEST(ReferenceOnTheBench, AFastHostIsFoundOut) {
  const auto report = held_against(30, 1, 80);  // against a slow reference every host is fast
  ASSERT_TRUE(report.ok()) << report.error().message;
  EXPECT_NEAR(report->host_ppm, 80, report->host_uncertainty_ppm);
  EXPECT_LT(report->host_uncertainty_ppm, 20);
}

TEST(ReferenceOnTheBench, NoPulsesAreNoReference) {
  const auto report = held_against(0, 1, 0);
  ASSERT_FALSE(report.ok());
  EXPECT_EQ(report.error().kind, ErrorKind::bench_unfit);
}

TEST(ReferenceOnTheBench, LinesHaveTheNamesOfTheWiring) {
  EXPECT_EQ(engine::capture_line("R1"), 0);
  EXPECT_EQ(engine::capture_line("P6"), 7);
  EXPECT_FALSE(engine::capture_line("S1"));
}

}  // namespace
}  // namespace midstick::e2e
