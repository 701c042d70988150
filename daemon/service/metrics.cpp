#include "daemon/service/metrics.hpp"

#include <prometheus/counter.h>
#include <prometheus/gauge.h>
#include <prometheus/registry.h>
#include <prometheus/text_serializer.h>

#include <array>
#include <sstream>

namespace midstick::service {
namespace {

using prometheus::BuildCounter;
using prometheus::BuildGauge;
using prometheus::Counter;
using prometheus::Family;
using prometheus::Gauge;

constexpr std::array<const char*, 5> kBenchStates{"missing", "held", "ready", "running", "stopping"};

}  // namespace

struct Metrics::Families {
  std::map<std::string, std::string> benches;  ///< as last told
  prometheus::Registry registry;
  Family<Counter>& runs = BuildCounter().Name("midstick_runs_total").Help("Runs that ended, by verdict.").Register(registry);
  Family<Counter>& seconds = BuildCounter().Name("midstick_run_seconds_total").Help("Wall-clock time that runs took.").Register(registry);
  Family<Gauge>& last = BuildGauge()
                            .Name("midstick_last_run_failed_checks")
                            .Help("Checks that failed in a controller's newest run of a plan.")
                            .Register(registry);
  Family<Gauge>& bench = BuildGauge().Name("midstick_bench_state").Help("1 for the state that a bench is in.").Register(registry);
  Family<Gauge>& jobs = BuildGauge().Name("midstick_queued_jobs").Help("Jobs that wait.").Register(registry);
  Family<Gauge>& ready = BuildGauge().Name("midstick_database_ready").Help("1 while the database answers.").Register(registry);
  Family<Gauge>& unsaved =
      BuildGauge().Name("midstick_unsaved_runs").Help("Finished runs that the database does not hold yet.").Register(registry);
  Family<Gauge>& disk = BuildGauge().Name("midstick_disk_free_bytes").Help("Free on the disk that keeps the runs.").Register(registry);
  Family<Gauge>& clients = BuildGauge().Name("midstick_live_clients").Help("Live views connected.").Register(registry);
  Family<Counter>& dropped =
      BuildCounter().Name("midstick_live_dropped_total").Help("Live views dropped because they took nothing.").Register(registry);
};

Metrics::Metrics() : families_(std::make_unique<Families>()) {}
Metrics::~Metrics() = default;

void Metrics::finished(const store::RunRow& run) {
  const std::string verdict = run.verdict.empty() ? "inconclusive" : run.verdict;
  families_->runs.Add({{"controller", run.controller}, {"plan", run.plan}, {"verdict", verdict}}).Increment();
  if (run.ended)
    families_->seconds.Add({{"bench", run.bench}}).Increment(std::max<double>(0, static_cast<double>(*run.ended - run.began) / 1e3));
  families_->last.Add({{"controller", run.controller}, {"plan", run.plan}}).Set(run.failed);
}

void Metrics::benches(const std::map<std::string, std::string>& states) {
  for (const auto& [name, gone] : families_->benches)
    if (!states.contains(name))
      for (const char* s : kBenchStates) families_->bench.Remove(&families_->bench.Add({{"bench", name}, {"state", s}}));
  for (const auto& [name, state] : states)
    for (const char* s : kBenchStates) families_->bench.Add({{"bench", name}, {"state", s}}).Set(state == s ? 1 : 0);
  families_->benches = states;
}

void Metrics::queued(std::size_t jobs) { families_->jobs.Add({}).Set(static_cast<double>(jobs)); }

void Metrics::database(bool ready, std::size_t unsaved) {
  families_->ready.Add({}).Set(ready ? 1 : 0);
  families_->unsaved.Add({}).Set(static_cast<double>(unsaved));
}

void Metrics::disk_free(std::int64_t bytes) { families_->disk.Add({}).Set(static_cast<double>(bytes)); }

void Metrics::live_clients(std::size_t connected, std::uint64_t dropped) {
  families_->clients.Add({}).Set(static_cast<double>(connected));
  auto& counter = families_->dropped.Add({});
  counter.Increment(static_cast<double>(dropped) - counter.Value());
}

std::string Metrics::text() const {
  std::ostringstream out;
  prometheus::TextSerializer().Serialize(out, families_->registry.Collect());
  return out.str();
}

}  // namespace midstick::service
