#include "daemon/engine/random_run.hpp"

#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>

#include "daemon/judge/random_script.hpp"
#include "daemon/judge/sticks.hpp"
#include "daemon/script/load.hpp"
#include "daemon/script/write_sticks.hpp"

namespace midstick::engine {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr const char* kKind = "random-sticks";
constexpr std::uint64_t kSeeds = 0x1'0000'0000;  // files have 32 bits

/// The plan's own random-sticks check, or one with the defaults; the script is ours.
json check_of(const script::Plan& plan) {
  json check = {{"check", kKind}};
  for (const json& c : plan.document.at("plan").at("checks"))
    if (c.at("check") == kKind) {
      check = c;
      break;
    }
  for (const char* key : {"script", "seed", "for_ms", "repeats", "name", "faults"}) check.erase(key);
  return check;
}

/// The plan with that check alone.
Result<script::Plan> plan_of_one(const script::Plan& plan) {
  json document = plan.document;
  document["plan"]["checks"] = json::array({check_of(plan)});
  auto one = script::plan_from_document(document, plan.path);
  if (one) one->controller.image = plan.controller.image;
  return one;
}

std::string controller_path(const RandomRequest& request, const script::Plan& plan) {
  const std::string virtual_bench = "virtual:";
  if (request.run.bench.starts_with(virtual_bench)) return request.run.bench.substr(virtual_bench.size());
  return (request.run.plan.parent_path() / plan.document["plan"].value("controller", "")).string();
}

class Randomness {
 public:
  Randomness(const RandomRequest& request, script::Plan plan, const std::atomic<bool>& stop)
      : request_(request), plan_(std::move(plan)), stop_(stop) {}

  Result<RandomOutcome> run() {
    RandomOutcome out;
    out.folder = request_.run.out;
    for (int i = 0; i < request_.runs; ++i) {
      out.seed = (plan_.seed + static_cast<std::uint64_t>(i)) % kSeeds;
      script::StickScript script{"random sticks, seed " + std::to_string(out.seed), plan_.frame, out.seed, {}};
      script.moves = judge::random_moves(plan_, request_.for_ms, out.seed, true);
      auto played = keep("random-" + std::to_string(i + 1), script, {script.name}, out);
      if (!played) return played.error();
      out.played = i + 1;
      if (out.run.cut_short) return out;
      if (out.run.result.verdict == judge::Verdict::fail) return shrink_it(script, std::move(out));
    }
    return out;
  }

 private:
  /// Writes script and plan, plays them, keeps the run folder.
  Status keep(const std::string& name, const script::StickScript& script, const std::vector<std::string>& about, RandomOutcome& out) {
    const bool percent = script::fits_percent(script, plan_.spec);
    if (auto s = script::write_sticks((out.folder / (name + ".json")).string(), script, about, percent ? &plan_.spec : nullptr); !s)
      return s;
    out.plan_again = out.folder / (name + "-plan.json");
    if (auto s = write_plan(out.plan_again, name + ".json", script.name); !s) return s;
    RunRequest request = request_.run;
    request.plan = out.plan_again, request.out = out.folder / name, request.seed.reset(), request.mixer.reset();
    auto run = engine::run(request, stop_);
    if (!run) {
      // Nothing was played: what was written for it would only stand in the way of the next try.
      std::error_code ignored;
      if (!fs::exists(request.out, ignored))
        for (const char* end : {".json", "-plan.json"}) fs::remove(out.folder / (name + end), ignored);
      return run.error();
    }
    out.run = run.take();
    return Ok{};
  }

  Status write_plan(const fs::path& path, const std::string& script, const std::string& name) const {
    // Both normal, as the reader of the plan takes them: a ".." in one of them alone would count as a folder.
    const auto normal = [](const fs::path& p) { return fs::absolute(p).lexically_normal(); };
    const auto from_here = [&, folder = normal(path).parent_path()](const fs::path& to) {
      return normal(to).lexically_proximate(folder).string();
    };
    json check = check_of(plan_);
    check["script"] = script;
    const json& base = plan_.document["plan"];
    const fs::path mixer =
        request_.run.mixer ? fs::path(*request_.run.mixer) : request_.run.plan.parent_path() / base.at("mixer").get<std::string>();
    const json plan = {{"format", "midstick plan 1"},
                       {"name", name},
                       {"mixer", from_here(mixer)},
                       {"controller", from_here(controller_path(request_, plan_))},
                       {"seed", plan_.seed},
                       {"frame", base.value("frame", json::object())},
                       {"checks", json::array({check})}};
    std::ofstream out(path);
    out << plan.dump(2) << '\n';
    out.close();
    if (!out) return Error{ErrorKind::io, path.string() + ": found a file that cannot be written; expected one that can"};
    return Ok{};
  }

  struct Trial {
    bool failed{false};
    double at_ms{-1};  ///< first failing instant after the preamble
  };

  Result<Trial> try_script(const script::StickScript& script) {
    script::Plan plan = plan_;
    plan.checks[0].script = script;
    RunRequest quiet = request_.run;
    quiet.on_progress = nullptr, quiet.on_notice = nullptr;
    auto tried = try_out(plan, quiet, stop_);
    if (!tried && tried.error().kind == ErrorKind::bad_file) return Trial{};  // cannot be played so
    if (!tried) return tried.error();
    if (tried->cut_short) return *tried->cut_short;
    const auto& check = tried->result.checks.at(0);
    Trial trial{check.verdict == judge::Verdict::fail, -1};
    const auto& capture = tried->capture;
    const double preamble = judge::whole_frames_ms(plan, plan.spec.arm.neutral_ms + judge::kArmMarginMs);
    for (const auto& span : check.evidence) {
      if (!span.failing) continue;
      const double ms = std::max(0.0, capture.clock.us(span.end - capture.segments.at(0).begin) / 1e3 - preamble);
      trial.at_ms = trial.at_ms < 0 ? ms : std::min(trial.at_ms, ms);
    }
    return trial;
  }

  Result<RandomOutcome> shrink_it(const script::StickScript& script, RandomOutcome out) {
    if (request_.run.on_notice)
      request_.run.on_notice("It failed. Shrinking the script on the bench: the controller is powered again and again, up to " +
                             std::to_string(request_.shrink_runs) + " times.");
    auto first = try_script(script);
    if (!first) return first.error();
    if (!first->failed) {
      if (request_.run.on_notice) request_.run.on_notice("The same script passed when it was played again; there is nothing to shrink.");
      return out;
    }
    const auto fails = [&](const script::StickScript& s) -> Result<bool> {
      auto trial = try_script(s);
      if (!trial) return trial.error();
      return trial->failed;
    };
    auto shrunk = shrink({script, plan_.spec, first->at_ms, request_.shrink_runs}, fails, request_.on_shrink);
    if (!shrunk) return shrunk.error();
    const std::string failure = out.run.result.checks.at(0).summary;
    shrunk->script.name = "shrunk from random sticks, seed " + std::to_string(out.seed);
    const std::vector<std::string> about{"The shortest script found that still fails, " + shrunk->script.name.substr(7) + ".",
                                         "It failed with: " + failure, "Controller: " + plan_.controller.name};
    if (auto s = keep("shrunk", shrunk->script, about, out); !s) return s.error();
    out.shrunk = shrunk.take();
    return out;
  }

  const RandomRequest& request_;
  const script::Plan plan_;
  const std::atomic<bool>& stop_;
};

Status make_folder(const fs::path& path) {
  std::error_code error;
  if (fs::exists(path, error) && !(fs::is_directory(path, error) && fs::is_empty(path, error)))
    return Error{ErrorKind::usage, path.string() + ": already exists; expected a new or an empty folder"};
  fs::create_directories(path, error);
  if (error) return Error{ErrorKind::io, path.string() + ": cannot be created: " + error.message()};
  return Ok{};
}

}  // namespace

Result<RandomOutcome> random_run(const RandomRequest& request, const std::atomic<bool>& stop) {
  auto plan = plan_for(request.run);
  if (!plan) return plan.error();
  auto one = plan_of_one(plan.value());
  if (!one) return one.error();
  if (auto s = make_folder(request.run.out); !s) return s.error();
  auto outcome = Randomness(request, one.take(), stop).run();
  std::error_code ignored;
  if (!outcome) fs::remove(request.run.out, ignored);  // only an empty folder goes
  return outcome;
}

}  // namespace midstick::engine
