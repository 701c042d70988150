#include "daemon/engine/run.hpp"

#include <unistd.h>

#include <chrono>
#include <ctime>
#include <nlohmann/json.hpp>
#include <utility>

#include "daemon/engine/bench_calibration.hpp"
#include "daemon/engine/player.hpp"
#include "daemon/engine/programme.hpp"
#include "daemon/engine/session.hpp"
#include "daemon/engine/when_where.hpp"
#include "daemon/report/caution.hpp"
#include "daemon/report/report_json.hpp"
#include "daemon/report/write_reports.hpp"
#include "daemon/script/load.hpp"
#include "daemon/store/run_folder.hpp"

namespace midstick::engine {
namespace {

namespace fs = std::filesystem;

fs::path folder_for(const RunRequest& request) {
  if (!request.out.empty()) return request.out;
  return fs::path("midstick-runs") / (request.plan.stem().string() + "-" + utc_now(true) + "-" + std::to_string(::getpid()));
}

/// Checks that a relay or a hand takes part in, where this bench or this run has none: said in the plan that is stored, so that judging the
/// run again gives the same answer.
Result<script::Plan> with_hands(const script::Plan& plan, const RunRequest& request) {
  nlohmann::json document = plan.document;
  for (auto& check : document["plan"]["checks"]) {
    const std::string by = check.value("by", "none");
    if (by == "hand" && !request.hand) check["by"] = "nobody";
    // No hand reaches into the virtual bench either: its "not safe" would be said of a fault that never was there.
    if ((by == "hand" || plan.controller.relay(by)) && request.bench.starts_with("virtual:")) check["by"] = "virtual";
  }
  if (document == plan.document) return plan;
  auto out = script::plan_from_document(document, plan.path);
  if (out) out->controller.image = plan.controller.image;
  return out;
}

/// Marks that ask a person to do something begin so.
constexpr std::string_view kHandMark = "by hand: ";

/// Everything up to the first pulse that may go wrong without anything being powered.
struct Ready {
  script::Plan plan;
  Programme programme;
  OpenBench bench;
  BenchCalibration calibration;
};

Result<Ready> prepare(Result<script::Plan> plan, const RunRequest& request) {
  if (!plan) return plan.error();
  auto programme = compose(plan.value(), plan->seed);
  if (!programme) return programme.error();
  auto calibration = BenchCalibration::find(request.calibration, board_name(request.bench, request.board));
  if (!calibration) return calibration.error();
  auto bench = open_bench(request.bench, request.conditions);
  if (!bench) return bench.error();
  return Ready{plan.take(), programme.take(), bench.take(), calibration.take()};
}

void caution(const RunRequest& request) {
  if (!request.on_notice || request.bench.starts_with("virtual:")) return;  // nothing real is powered there
  request.on_notice("CAUTION: the controller on this bench is about to be powered and driven to full stick.");
  for (const char* line : report::kCautions) request.on_notice(std::string("  - ") + line);
}

/// Board greeted, its lines enough, its calibration fitting or not, its clock known. Nothing is powered yet.
Status meet_bench(Session& session, Ready& ready, const RunRequest& request) {
  if (auto s = session.open(); !s) return s;
  const auto& hello = session.link().hello();
  for (const auto& pin : ready.plan.controller.outputs)
    if (pin.line_no >= hello.capture_lines + hello.pin_change_lines)
      return Error{ErrorKind::bench_missing, "output \"" + pin.name + "\" is on line " + pin.line + ", which this board does not have"};
  ready.calibration.check(session.identity(), utc_now());
  if (const auto& warning = ready.calibration.warning(); request.on_notice && !warning.empty()) request.on_notice("WARNING: " + warning);
  return session.settle_clock(kClockPpm, kClockPatience);
}

PlayOutcome play_on(Session& session, const Ready& ready, const RunRequest& request) {
  caution(request);
  std::size_t next_mark = 0;
  const auto on_progress = [&](const PlayProgress& p) {
    const auto& marks = ready.programme.timeline.marks;
    for (; next_mark < marks.size() && marks[next_mark].at <= ScriptTime{} + p.done; ++next_mark)
      if (request.on_notice && marks[next_mark].label.starts_with(kHandMark)) request.on_notice("NOW " + marks[next_mark].label);
    if (!request.on_progress) return;
    const auto& segments = ready.programme.segments;
    const bool inside = p.segment < segments.size();
    request.on_progress({inside ? ready.plan.checks[static_cast<std::size_t>(segments[p.segment].check)].name : "",
                         inside ? static_cast<int>(p.segment) + 1 : 0, static_cast<int>(segments.size()),
                         static_cast<double>(p.done.count) / 1e6, static_cast<double>(p.total.count) / 1e6, p.glimpse,
                         ready.plan.controller});
  };
  auto played = play(session, ready.programme, ready.plan.controller, on_progress);
  ready.calibration.apply(played.capture);
  return played;
}

}  // namespace

Result<script::Plan> plan_for(const RunRequest& request) {
  std::optional<std::string> controller;
  if (request.bench.starts_with("virtual:")) controller = request.bench.substr(std::string("virtual:").size());
  if (controller && controller->empty()) return controller_of(request.bench).error();
  auto plan = request.document.empty()
                  ? script::load_plan(request.plan.string(), controller, request.mixer)
                  : script::plan_from_document(nlohmann::json::parse(request.document, nullptr, false), request.plan.string());
  if (plan && !request.only.empty()) plan = script::with_only(plan.value(), request.only);
  if (plan && request.seed) plan = script::with_seed(plan.value(), *request.seed);
  if (!plan) return plan;
  return with_hands(plan.value(), request);
}

Result<TryOutcome> try_out(const script::Plan& plan, const RunRequest& request, const std::atomic<bool>& stop) {
  auto ready = prepare(plan, request);
  if (!ready) return ready.error();
  Session session(*ready->bench.transport, stop);
  if (auto s = meet_bench(session, ready.value(), request); !s) return s.error();
  auto played = play_on(session, ready.value(), request);
  auto result = judge::judge_run(ready->plan, played.capture);
  return TryOutcome{std::move(result), std::move(played.capture), std::move(played.cut_short)};
}

Result<PlayedRun> play_run(const RunRequest& request, const std::atomic<bool>& stop) {
  const fs::path path = folder_for(request);
  std::error_code ignored;
  if (fs::exists(path, ignored) && !(fs::is_directory(path, ignored) && fs::is_empty(path, ignored)))
    return Error{ErrorKind::usage, path.string() + ": already exists; expected a new or an empty folder for the run"};
  auto ready = prepare(plan_for(request), request);
  if (!ready) return ready.error();
  const std::string started = utc_now();
  Session session(*ready->bench.transport, stop);
  if (auto s = meet_bench(session, ready.value(), request); !s) return s.error();
  // The folder is made before anything is powered: a disk that cannot be written must not be found out after the run.
  auto folder = store::RunFolder::create(
      path,
      {{"started", started}, {"bench", request.bench}, {"plan", ready->plan.path}, {"seed", ready->plan.seed}, {"build", request.build}});
  if (!folder) return folder.error();
  if (auto s = folder->write_plan(ready->plan.document); !s) return s.error();
  auto played = play_on(session, ready.value(), request);
  played.capture.identity.controller_image = ready->bench.image_fingerprint;
  if (auto s = folder->write_capture(played.capture); !s) return s.error();
  return PlayedRun{std::move(ready->plan), folder.take(), std::move(played.capture), std::move(played.cut_short), started, request.build};
}

Result<RunOutcome> judge_played(PlayedRun played) {
  RunOutcome outcome{judge::judge_run(played.plan, played.capture), played.folder.path(), played.cut_short, ""};
  const report::RunFacts facts{played.started, utc_now(), host_name(), fs::absolute(played.folder.path()).string(), played.build};
  const report::Source source{played.plan, played.capture, outcome.result, facts, "midstick " MIDSTICK_VERSION};
  if (auto s = report::write_reports(played.folder.path(), source); !s) return s.error();
  outcome.report_json = report::report_json(source);
  if (played.capture.complete)
    if (auto s = played.folder.complete(); !s) return s.error();
  return outcome;
}

Result<RunOutcome> run(const RunRequest& request, const std::atomic<bool>& stop) {
  auto played = play_run(request, stop);
  if (!played) return played.error();
  return judge_played(played.take());
}

int exit_code(const RunOutcome& outcome) {
  if (outcome.cut_short) return midstick::exit_code(outcome.cut_short->kind);
  return static_cast<int>(outcome.result.verdict == judge::Verdict::pass ? 0 : outcome.result.verdict == judge::Verdict::fail ? 1 : 2);
}

}  // namespace midstick::engine
