// A sweep of one of the zoo's controllers on the virtual bench, made once a test program and kept.
#pragma once

#include <gtest/gtest.h>

#include <filesystem>
#include <map>
#include <string>

#include "daemon/sweep/sweep.hpp"
#include "tests/e2e/scratch_folder.hpp"
#include "tests/e2e/whole_run.hpp"

namespace midstick::sweep::test {

struct Kept {
  e2e::ScratchFolder folder;
  Result<Swept> swept{Error{}};
  std::filesystem::path at(const char* file) const { return folder / "map" / file; }
};

inline std::string image(const std::string& id) { return "virtual:" + e2e::source("build/images/" + id + ".json").string(); }

/// `id` of the zoo, "drive-correct". The bench board's clock is off, as it is in life.
inline const Kept& swept(const std::string& id) {
  static std::map<std::string, Kept> all;
  static const std::atomic<bool> never{false};
  if (const auto at = all.find(id); at != all.end()) return at->second;
  Kept& kept = all[id];
  Request request;
  request.bench = image(id);
  request.out = kept.folder / "map";
  request.conditions.board_ppm = 1500;
  kept.swept = sweep(request, never);
  return kept;
}

}  // namespace midstick::sweep::test
