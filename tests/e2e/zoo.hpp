// The controllers of fixtures/controllers/zoo.json, and a run of one of them on the virtual bench.
#pragma once

#include <fstream>
#include <set>

#include "daemon/judge/causes.hpp"
#include "tests/e2e/whole_run.hpp"

namespace midstick::e2e {

struct Build {
  std::string id;
  std::filesystem::path controller, mixer, plan;
  int catalogue{0};                ///< number in the catalogue of faults
  std::string fault;               ///< in words; "" for a correct controller
  std::string fails;               ///< kind of the check that must fail
  std::string cause;               ///< that must be named first
  std::set<std::string> may_fail;  ///< kinds: the one above, those that the cause breaks, and those it is listed to drag along
};

inline std::vector<Build> zoo(bool correct) {
  const auto folder = source("fixtures/controllers");
  const auto file = nlohmann::json::parse(std::ifstream(folder / "zoo.json"));
  std::vector<Build> all;
  for (const auto& z : file.at(correct ? "correct" : "faulty")) {
    Build b;
    b.id = z.at("id");
    b.controller = source("build/images") / (b.id + ".json");
    for (const auto& style : file.at("styles"))
      if (style.at("style") == z.at("style")) b.mixer = folder / style.at("mixer").get<std::string>();
    b.plan = folder / z.value("plan", file.at("plan").get<std::string>());
    b.catalogue = z.value("catalogue", 0);
    b.fault = z.value("fault", "");
    b.fails = z.value("fails", "");
    b.cause = z.value("cause", "");
    if (!correct) {
      b.may_fail.insert(b.fails);
      for (const auto& kind : z.at("drags")) b.may_fail.insert(kind.get<std::string>());
      if (const auto* known = judge::known_cause(b.cause)) b.may_fail.insert(known->breaks.begin(), known->breaks.end());
    }
    all.push_back(std::move(b));
  }
  return all;
}

inline Result<engine::RunOutcome> run_build(const Build& build, const std::filesystem::path& out, engine::VirtualConditions conditions = {},
                                            std::optional<std::uint64_t> seed = std::nullopt, std::vector<std::string> only = {}) {
  static const std::atomic<bool> never{false};
  engine::RunRequest request;
  request.plan = build.plan;
  request.mixer = build.mixer.string();
  request.bench = "virtual:" + build.controller.string();
  request.out = out;
  request.seed = seed;
  request.only = std::move(only);
  request.conditions = conditions;
  return engine::run(request, never);
}

/// Test names may hold no '-'.
inline std::string test_name(std::string id) {
  for (char& c : id)
    if (c == '-') c = '_';
  return id;
}

}  // namespace midstick::e2e
