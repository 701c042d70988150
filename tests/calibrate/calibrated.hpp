// The virtual bench's calibration, made once for a whole test program.
#pragma once

#include <gtest/gtest.h>

#include "daemon/calibrate/rounds.hpp"
#include "daemon/calibrate/study.hpp"
#include "daemon/engine/open_bench.hpp"
#include "daemon/engine/session.hpp"

namespace midstick::calibrate {

struct Played {
  Rounds rounds;
  protocol::Hello hello;
};

inline Played play_virtual(std::uint64_t seed, double board_ppm) {
  static const std::atomic<bool> never{false};
  engine::VirtualConditions conditions;
  conditions.board_ppm = board_ppm;
  auto bench = engine::open_bench("virtual:loopback", conditions);
  if (!bench.ok()) throw std::runtime_error(bench.error().message);
  engine::Session session(*bench->transport, never);
  if (auto s = session.open(); !s.ok()) throw std::runtime_error(s.error().message);
  VirtualJumpers jumpers(*bench->loopback, seed);
  auto rounds = play_rounds(session, jumpers);
  if (!rounds.ok()) throw std::runtime_error(rounds.error().message);
  return {rounds.take(), session.link().hello()};
}

/// The rounds, played once.
inline const Played& virtual_rounds() {
  static const Played played = play_virtual(1, 700);
  return played;
}

inline capture::Calibration virtual_calibration() {
  auto found = study(virtual_rounds().rounds, virtual_rounds().hello);
  if (!found.ok()) throw std::runtime_error(found.error().message);
  found->calibration.board = "virtual";
  found->calibration.date = "2026-03-01T10:00:00Z";
  return found->calibration;
}

}  // namespace midstick::calibrate
