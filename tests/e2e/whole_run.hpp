// Helpers of the whole-run tests: a run in a folder of its own, and its report as JSON.
#pragma once

#include <gtest/gtest.h>

#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>

#include "daemon/engine/run.hpp"
#include "tests/e2e/scratch_folder.hpp"

namespace midstick::e2e {

inline std::filesystem::path source(const std::string& below) { return std::filesystem::path(MIDSTICK_SOURCE) / below; }

inline Result<engine::RunOutcome> run_on_virtual(const std::filesystem::path& plan, const std::filesystem::path& controller,
                                                 const std::filesystem::path& out, engine::VirtualConditions conditions = {},
                                                 std::optional<std::uint64_t> seed = std::nullopt) {
  static const std::atomic<bool> never{false};
  engine::RunRequest request;
  request.plan = plan;
  request.bench = "virtual:" + controller.string();
  request.out = out;
  request.seed = seed;
  request.conditions = conditions;
  return engine::run(request, never);
}

/// Verdict by check name, for messages: "neutral pass, static-mix fail: ...".
inline std::string verdicts(const judge::RunResult& result) {
  std::string text;
  for (const auto& c : result.checks)
    text += c.name + " " + judge::name(c.verdict) + (c.verdict == judge::Verdict::pass ? "" : ": " + c.summary) + "\n";
  return text;
}

}  // namespace midstick::e2e
