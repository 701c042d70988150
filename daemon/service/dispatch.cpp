#include "daemon/service/dispatch.hpp"

#include <algorithm>

namespace midstick::service {
namespace {

bool may_use(const store::JobRequest& job, const BenchView& bench) {
  if (!job.bench.empty()) return bench.name == job.bench;
  return std::ranges::all_of(job.labels, [&](const std::string& l) { return std::ranges::find(bench.labels, l) != bench.labels.end(); });
}

std::string listed(const std::vector<std::string>& names) {
  std::string out;
  for (const auto& n : names) out += (out.empty() ? "" : ", ") + n;
  return out;
}

}  // namespace

std::vector<Assignment> dispatch(const std::vector<store::Job>& queue, std::vector<BenchView> benches) {
  std::vector<Assignment> out;
  for (const store::Job& job : queue) {
    const auto bench =
        std::ranges::find_if(benches, [&](const BenchView& b) { return b.present && !b.busy && !b.held && may_use(job.request, b); });
    if (bench == benches.end()) continue;
    bench->busy = true;
    out.push_back({job.id, bench->name});
  }
  return out;
}

std::string waits_for(const store::JobRequest& job, const std::vector<BenchView>& benches) {
  std::vector<std::string> fitting, held, missing;
  for (const BenchView& b : benches) {
    if (!may_use(job, b)) continue;
    if (b.present && !b.busy && !b.held) return "";
    (b.held ? held : b.present ? fitting : missing).push_back(b.name);
  }
  if (!fitting.empty()) return "another job on " + listed(fitting);
  if (!held.empty()) return "a person to release " + listed(held) + ", where the stop loop opened";
  if (!missing.empty()) return "a bench that is not there: " + listed(missing);
  return job.bench.empty() ? "a bench with the labels " + listed(job.labels) + ", which none has"
                           : "bench " + job.bench + ", which is not configured";
}

}  // namespace midstick::service
