// Jobs: what is asked for is kept as it was asked, queued by priority, begun once, and cancelled only while it waits.
#include <thread>

#include "tests/records/engines.hpp"

namespace midstick::records_test {
namespace {

using store::Job;
using store::JobState;

class Jobs : public WithRecords {
 protected:
  Job job(std::int64_t id) { return must(records_->job(id)).value_or(Job{}); }
  std::vector<std::int64_t> ids(const std::vector<Job>& jobs) {
    std::vector<std::int64_t> out;
    for (const auto& j : jobs) out.push_back(j.id);
    return out;
  }
};
MIDSTICK_ON_BOTH_ENGINES(Jobs);

using Ids = std::vector<std::int64_t>;

TEST_P(Jobs, ANightIsKnownSinceItWasFirstAskedFor) {
  EXPECT_EQ(must(records_->night_known("nightly 02:30", 500)), 500);
  EXPECT_EQ(must(records_->night_known("nightly 02:30", 900)), 500);
  EXPECT_EQ(must(records_->night_known("nightly 03:30", 900)), 900) << "another hour is another schedule";
  EXPECT_EQ(must(records_->night_known("nightly 02:30", 100)), 100) << "the clock was set back";
  EXPECT_EQ(must(records_->night_known("nightly 02:30", 600)), 100);
}

TEST_P(Jobs, ARequestReadsBackAsItWasAsked) {
  store::JobRequest r = request();
  r.bench = "left bench";
  r.labels = {"relay", "satellite, \"R2\""};
  r.document = R"({"name": "nightly", "note": "50 µs; 'quoted'"})";
  r.only = {"neutral", "link-loss"};
  r.seed = 18'446'744'073'709'551'615u;
  r.priority = -100;
  r.deadline = 1'900'000'000'123;
  r.tries = 5;
  r.night = "mower 2026-11-25";
  const auto id = must(records_->submit(r, 1'800'000'000'456));
  const Job back = job(id);
  EXPECT_EQ(back.request.plan, r.plan);
  EXPECT_EQ(back.request.controller, r.controller);
  EXPECT_EQ(back.request.build, r.build);
  EXPECT_EQ(back.request.bench, r.bench);
  EXPECT_EQ(back.request.labels, r.labels);
  EXPECT_EQ(back.request.document, r.document);
  EXPECT_EQ(back.request.only, r.only);
  EXPECT_EQ(back.request.seed, r.seed);
  EXPECT_EQ(back.request.priority, r.priority);
  EXPECT_EQ(back.request.deadline, r.deadline);
  EXPECT_EQ(back.request.tries, r.tries);
  EXPECT_EQ(back.request.night, r.night);
  EXPECT_EQ(back.submitted, 1'800'000'000'456);
  EXPECT_EQ(back.state, JobState::queued);
  EXPECT_EQ(back.begun, 0);
  EXPECT_EQ(back.run, 0);
  EXPECT_EQ(back.ended, std::nullopt);
}

TEST_P(Jobs, WhatIsNotAskedForIsAbsent) {
  const Job back = job(must(records_->submit(request(), 1)));
  EXPECT_EQ(back.request.seed, std::nullopt);
  EXPECT_EQ(back.request.deadline, std::nullopt);
  EXPECT_EQ(back.request.night, "");
  EXPECT_TRUE(back.request.labels.empty());
  EXPECT_TRUE(back.request.only.empty());
}

TEST_P(Jobs, TextThatIsNoUtf8IsKeptWithReplacementCharacters) {
  store::JobRequest r = request(std::string("rev \xff") + '\0' + "B");
  EXPECT_EQ(job(must(records_->submit(r, 1))).request.build,
            "rev \xEF\xBF\xBD\xEF\xBF\xBD"
            "B");
}

TEST_P(Jobs, NumbersOutOfRangeAreRefusedAndThatIsNotTheDatabasesFault) {
  for (const auto& [priority, tries] : {std::pair{101, 1}, {-101, 1}, {0, 0}, {0, 6}}) {
    store::JobRequest r = request();
    r.priority = priority;
    r.tries = tries;
    const auto id = records_->submit(r, 1);
    ASSERT_FALSE(id.ok());
    EXPECT_EQ(id.error().kind, ErrorKind::usage);
    EXPECT_FALSE(records_->away());
  }
  EXPECT_FALSE(records_->jobs(std::nullopt, 0, 0).ok());
  EXPECT_FALSE(records_->jobs(std::nullopt, 0, 201).ok());
  EXPECT_TRUE(must(records_->queue()).empty());
}

TEST_P(Jobs, TheQueueIsByPriorityThenAge) {
  const auto with = [&](int priority) {
    store::JobRequest r = request();
    r.priority = priority;
    return must(records_->submit(r, 1));
  };
  const auto a = with(0), b = with(5), c = with(0), d = with(-3), e = with(5);
  EXPECT_EQ(ids(must(records_->queue())), (Ids{b, e, a, c, d}));
  must(records_->begin(e, "left bench", 2));
  must(records_->cancel(a, "not wanted", 2));
  EXPECT_EQ(ids(must(records_->queue())), (Ids{b, c, d}));
}

TEST_P(Jobs, ANightIsThereOnceHoweverManyAskForIt) {
  store::JobRequest r = request();
  r.night = "mower 2026-10-25";
  const auto first = must(records_->submit(r, 1));
  auto other = open();
  EXPECT_EQ(must(other->submit(r, 2)), first);
  EXPECT_EQ(must(records_->night(r.night))->id, first);
  EXPECT_EQ(must(records_->night("mower 2026-10-26")), std::nullopt) << "a night nobody asked for";
  // Done or cancelled, it stays that night's job.
  must(records_->cancel(first, "rain", 3));
  EXPECT_EQ(must(other->submit(r, 4)), first);
  EXPECT_EQ(must(records_->jobs(std::nullopt, 0, 10)).size(), 1u);
  r.night = "";
  EXPECT_NE(must(records_->submit(r, 5)), must(records_->submit(r, 5))) << "jobs without a night are as many as asked for";
}

/// Both do it at once, many times over; `wins` counts.
template <class One, class Other>
void at_once(One one, Other other) {
  std::thread beside(other);
  one();
  beside.join();
}

TEST_P(Jobs, TwoConnectionsThatAskForOneNightAtOnceGetOneJob) {
  auto other = open();
  for (int night = 1; night <= 40; ++night) {
    store::JobRequest r = request();
    r.night = "mower night " + std::to_string(night);
    std::int64_t here = 0, there = 0;
    at_once([&] { here = must(records_->submit(r, 1)); }, [&] { there = must(other->submit(r, 1)); });
    EXPECT_EQ(here, there);
  }
  EXPECT_EQ(must(records_->queue()).size(), 40u);
}

TEST_P(Jobs, AJobIsBegunByOneAndCancelledByNoneOrCancelledAndBegunByNone) {
  auto other = open();
  for (int i = 0; i < 40; ++i) {
    const auto id = must(records_->submit(request(), 1));
    bool begun = false, cancelled = false;
    at_once([&] { begun = records_->begin(id, "left bench", 2).ok(); }, [&] { cancelled = must(other->cancel(id, "not wanted", 2)); });
    EXPECT_NE(begun, cancelled);
    const Job now = job(id);
    EXPECT_EQ(now.state, begun ? JobState::running : JobState::cancelled);
    EXPECT_EQ(now.run != 0, begun);
  }
}

TEST_P(Jobs, TwoThatBeginOneJobMakeOneRun) {
  auto other = open();
  for (int i = 0; i < 40; ++i) {
    const auto id = must(records_->submit(request(), 1));
    bool here = false, there = false;
    at_once([&] { here = records_->begin(id, "left bench", 2).ok(); }, [&] { there = other->begin(id, "right bench", 2).ok(); });
    EXPECT_NE(here, there);
    EXPECT_EQ(job(id).begun, 1);
  }
  EXPECT_EQ(must(records_->running()).size(), 40u);
}

TEST_P(Jobs, OnlyWhatWaitsCanBeCancelled) {
  const auto id = must(records_->submit(request(), 1));
  EXPECT_TRUE(must(records_->cancel(id, "wrong build", 7)));
  EXPECT_EQ(job(id).state, JobState::cancelled);
  EXPECT_EQ(job(id).note, "wrong build");
  EXPECT_EQ(job(id).ended, 7);
  EXPECT_FALSE(must(records_->cancel(id, "again", 8)));
  EXPECT_EQ(job(id).note, "wrong build");
  const auto begun = must(records_->submit(request(), 1));
  must(records_->begin(begun, "left bench", 2));
  EXPECT_FALSE(must(records_->cancel(begun, "too late", 3)));
  EXPECT_EQ(job(begun).state, JobState::running);
  const auto none = records_->cancel(999'999, "nobody", 3);
  ASSERT_FALSE(none.ok());
  EXPECT_EQ(none.error().kind, ErrorKind::usage);
  EXPECT_FALSE(records_->away());
}

TEST_P(Jobs, AJobWhoseDeadlineHasComeIsCancelledAndNotBegun) {
  const auto with = [&](std::optional<store::UnixMs> deadline) {
    store::JobRequest r = request();
    r.deadline = deadline;
    return must(records_->submit(r, 1));
  };
  const auto soon = with(100), later = with(200), never = with(std::nullopt), taken = with(100);
  must(records_->begin(taken, "left bench", 50));
  EXPECT_FALSE(records_->begin(soon, "left bench", 100).ok()) << "expire() may not have been called yet";
  EXPECT_EQ(must(records_->expire(99)), Ids{});
  EXPECT_EQ(must(records_->expire(100)), Ids{soon});
  EXPECT_EQ(job(soon).state, JobState::cancelled);
  EXPECT_EQ(job(soon).ended, 100);
  EXPECT_NE(job(soon).note, "");
  EXPECT_EQ(job(taken).state, JobState::running) << "it was begun in time";
  EXPECT_EQ(ids(must(records_->queue())), (Ids{later, never}));
}

TEST_P(Jobs, ExpiredOnesAreToldInTheOrderOfTheirIds) {
  store::JobRequest r = request();
  r.deadline = 100, r.tries = 2;
  const auto first = must(records_->submit(r, 1));
  r.priority = 5;
  const auto second = must(records_->submit(r, 1));
  // Queued again, so that neither where it lies nor its priority puts it first.
  const auto run = must(records_->run(must(records_->begin(first, "left bench", 2))));
  must(records_->finish(ended(*run, "", 3), {}, {}, true));
  EXPECT_EQ(must(records_->expire(100)), (Ids{first, second}));
}

TEST_P(Jobs, PagesGoFromTheNewestOnAndMissNoneWhileNewOnesCome) {
  Ids all;
  for (int i = 0; i < 7; ++i) all.insert(all.begin(), must(records_->submit(request(), i)));
  Ids seen;
  for (std::int64_t before = 0;;) {
    const auto page = ids(must(records_->jobs(std::nullopt, before, 3)));
    if (page.empty()) break;
    seen.insert(seen.end(), page.begin(), page.end());
    before = page.back();
    must(records_->submit(request(), 100));
  }
  EXPECT_EQ(seen, all);
  must(records_->cancel(all[2], "", 1));
  EXPECT_EQ(ids(must(records_->jobs(JobState::cancelled, 0, 10))), Ids{all[2]});
  EXPECT_EQ(must(records_->job(999'999)), std::nullopt);
}

}  // namespace
}  // namespace midstick::records_test
