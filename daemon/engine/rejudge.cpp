#include "daemon/engine/rejudge.hpp"

#include <nlohmann/json.hpp>

#include "daemon/report/report_json.hpp"
#include "daemon/report/write_reports.hpp"
#include "daemon/script/load.hpp"
#include "daemon/store/run_folder.hpp"

namespace midstick::engine {
namespace {

namespace fs = std::filesystem;

Result<script::Plan> stored_plan(const std::string& text, const std::string& where, const fs::path& spec) {
  const auto document = nlohmann::json::parse(text, nullptr, false);
  if (document.is_discarded()) return Error{ErrorKind::bad_file, where + ": is not JSON"};
  auto plan = script::plan_from_document(document, where);
  if (!plan || spec.empty()) return plan;
  return script::with_mixer(plan.value(), spec.string());
}

}  // namespace

Result<Rejudged> rejudge(const fs::path& run, const fs::path& spec, const fs::path& out) {
  auto stored = store::read_run(run);
  if (!stored) return stored.error();
  auto plan = stored_plan(stored->plan, (run / "plan.json").string(), spec);
  if (!plan) return plan.error();
  auto result = judge::judge_run(plan.value(), stored->capture);
  Rejudged again{plan.take(), std::move(stored->capture), std::move(result), ""};

  const auto about = nlohmann::json::parse(stored->about, nullptr, false);
  const auto said = [&about](const char* key) {
    return about.is_object() && about.contains(key) && about[key].is_string() ? about[key].get<std::string>() : std::string();
  };
  const report::RunFacts facts{said("started"), said("started"), "", fs::absolute(run).string(), said("build")};
  const report::Source source{again.plan, again.capture, again.result, facts, "midstick " MIDSTICK_VERSION};
  again.report_json = report::report_json(source);
  if (!out.empty()) {
    std::error_code error;
    fs::create_directories(out, error);
    if (error) return Error{ErrorKind::io, out.string() + ": cannot be created: " + error.message()};
    if (auto s = report::write_reports(out, source); !s) return s.error();
  }
  return again;
}

}  // namespace midstick::engine
