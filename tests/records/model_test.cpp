// The life of jobs against a plain model: whatever is asked, in whatever order, by two connections in turn. RapidCheck prints its seed on
// failure.
#include <rapidcheck.h>

#include <algorithm>
#include <map>

#include "tests/records/engines.hpp"

namespace midstick::records_test {
namespace {

using store::JobState;

struct ModelJob {
  int priority{0}, tries{1}, begun{0};
  std::optional<store::UnixMs> deadline;
  std::string night;
  JobState state{JobState::queued};
  std::int64_t run{0};
};

/// What records.hpp says, in as few words.
struct Model {
  std::map<std::int64_t, ModelJob> jobs;
  std::map<std::int64_t, std::string> runs;  ///< id, state
  store::UnixMs now{0};

  std::vector<std::int64_t> queue() const {
    std::vector<std::int64_t> out;
    for (const auto& [id, job] : jobs)
      if (job.state == JobState::queued) out.push_back(id);
    std::ranges::stable_sort(out, std::greater{}, [&](std::int64_t id) { return jobs.at(id).priority; });
    return out;
  }
  void end(ModelJob& job, const std::string& state, bool again) {
    runs[job.run] = state;
    job.state = again && job.begun < job.tries ? JobState::queued : state == "interrupted" ? JobState::interrupted : JobState::done;
  }
};

enum class Step { submit, cancel, expire, begin, finish, recover };

class Life {
 public:
  explicit Life(store::Records& records) : records_(&records) {}

  void with(store::Records& records) { records_ = &records; }

  void step() {
    model_.now += *rc::gen::inRange(0, 3);
    switch (*rc::gen::weightedElement<Step>(
        {{4, Step::submit}, {2, Step::cancel}, {1, Step::expire}, {4, Step::begin}, {4, Step::finish}, {1, Step::recover}})) {
      case Step::submit:
        return submit();
      case Step::cancel:
        return cancel();
      case Step::expire:
        return expire();
      case Step::begin:
        return begin();
      case Step::finish:
        return finish();
      case Step::recover:
        return recover();
    }
  }

  void expect_same() {
    std::vector<std::int64_t> queue;
    for (const auto& job : must(records_->queue())) queue.push_back(job.id);
    RC_ASSERT(queue == model_.queue());
    for (const auto& [id, job] : model_.jobs) {
      const auto kept = must(records_->job(id));
      RC_ASSERT(kept.has_value());
      RC_ASSERT(kept->state == job.state);
      RC_ASSERT(kept->begun == job.begun);
      RC_ASSERT(kept->run == job.run);
      RC_ASSERT(kept->ended.has_value() == (job.state != JobState::queued && job.state != JobState::running));
    }
    for (const auto& [id, state] : model_.runs) RC_ASSERT(must(records_->run(id))->state == state);
  }

 private:
  /// A job that is there, or one that is not.
  std::int64_t some_job() {
    std::vector<std::int64_t> ids{-1};
    for (const auto& [id, job] : model_.jobs) ids.push_back(id);
    return *rc::gen::elementOf(ids);
  }

  void submit() {
    ModelJob job;
    job.priority = *rc::gen::inRange(-2, 3);
    job.tries = *rc::gen::inRange(1, 4);
    if (*rc::gen::arbitrary<bool>()) job.deadline = model_.now + *rc::gen::inRange(1, 12);
    if (*rc::gen::inRange(0, 3) == 0) job.night = "mower night " + std::to_string(*rc::gen::inRange(0, 3));
    store::JobRequest r = request();
    r.priority = job.priority, r.tries = job.tries, r.deadline = job.deadline, r.night = job.night;
    const auto id = must(records_->submit(r, model_.now));
    const auto same = std::ranges::find_if(model_.jobs, [&](const auto& j) { return !job.night.empty() && j.second.night == job.night; });
    if (same != model_.jobs.end()) {
      RC_ASSERT(id == same->first);
    } else {
      RC_ASSERT(!model_.jobs.contains(id));
      model_.jobs[id] = job;
    }
  }

  void cancel() {
    const auto id = some_job();
    const auto done = records_->cancel(id, "not wanted", model_.now);
    RC_ASSERT(done.ok() == model_.jobs.contains(id));
    if (!done) return;
    ModelJob& job = model_.jobs[id];
    RC_ASSERT(done.value() == (job.state == JobState::queued));
    if (done.value()) job.state = JobState::cancelled;
  }

  void expire() {
    std::vector<std::int64_t> due;
    for (auto& [id, job] : model_.jobs)
      if (job.state == JobState::queued && job.deadline && *job.deadline <= model_.now) {
        due.push_back(id);
        job.state = JobState::cancelled;
      }
    RC_ASSERT(must(records_->expire(model_.now)) == due);
  }

  void begin() {
    const auto id = some_job();
    const auto run = records_->begin(id, "left bench", model_.now);
    const auto job = model_.jobs.find(id);
    const bool may =
        job != model_.jobs.end() && job->second.state == JobState::queued && (!job->second.deadline || *job->second.deadline > model_.now);
    RC_ASSERT(run.ok() == may);
    if (!may) return;
    RC_ASSERT(!model_.runs.contains(*run));
    model_.runs[*run] = "running";
    job->second.state = JobState::running;
    ++job->second.begun;
    job->second.run = *run;
  }

  void finish() {
    const auto job = model_.jobs.find(some_job());
    if (job == model_.jobs.end() || job->second.run == 0) return;
    const auto state = *rc::gen::element<std::string>("complete", "incomplete", "interrupted", "error");
    const bool again = *rc::gen::arbitrary<bool>(), was_running = model_.runs[job->second.run] == "running";
    store::RunRow row = must(records_->run(job->second.run)).value();
    if (!was_running) row.ended = model_.now + 1000;  // another end than it had
    if (was_running) row.ended = model_.now;
    row.state = state;
    row.verdict = state == "complete" ? "pass" : "";
    RC_ASSERT(records_->finish(row, {{"neutral", "pass", "", "", false}}, {}, again).ok() == was_running);
    if (was_running) model_.end(job->second, state, again);
  }

  void recover() {
    std::vector<std::int64_t> expected, found;
    for (const auto& [id, state] : model_.runs)
      if (state == "running") expected.push_back(id);
    for (auto& [id, job] : model_.jobs)
      if (job.state == JobState::running) model_.end(job, "interrupted", true);
    for (const auto& run : must(records_->recover(model_.now))) found.push_back(run.id);
    RC_ASSERT(found == expected);
  }

  store::Records* records_;
  Model model_;
};

using Models = WithRecords;
MIDSTICK_ON_BOTH_ENGINES(Models);

TEST_P(Models, JobsLiveAsTheModelSays) {
  auto other = open();
  EXPECT_TRUE(rc::check([&] {
    for (const char* table : {"metric", "check_result", "run", "job"}) must(database_->query("DELETE FROM " + std::string(table)));
    Life life(*records_);
    const int steps = *rc::gen::inRange(1, 30);
    for (int i = 0; i < steps; ++i) {
      life.with(*rc::gen::arbitrary<bool>() ? *records_ : *other);
      life.step();
      life.expect_same();
    }
  }));
}

}  // namespace
}  // namespace midstick::records_test
