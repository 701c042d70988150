// What broke since yesterday, and what it was before.
#include "daemon/service/histories.hpp"

#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <nlohmann/json.hpp>

namespace midstick::service {
namespace {

using nlohmann::json;
namespace fs = std::filesystem;

class Broke : public ::testing::Test {
 protected:
  void SetUp() override {
    file_ = fs::path(::testing::TempDir()) / ("broke-" + std::to_string(::getpid()) + ".sqlite");
    fs::remove(file_);
    auto opened = store::Records::open("sqlite:" + file_.string());
    ASSERT_TRUE(opened.ok()) << opened.error().message;
    records_ = opened.take();
  }
  void TearDown() override {
    records_.reset();
    for (const char* end : {"", "-wal", "-shm"}) fs::remove(file_.string() + end);
  }

  /// A complete run in which the check "neutral" had this verdict; "" leaves the check out. Its id.
  std::int64_t ran(const std::string& verdict, const std::string& bench = "left desk", const std::string& plan = "nightly") {
    store::JobRequest request;
    request.plan = plan, request.controller = "mower", request.bench = bench;
    auto job = records_->submit(request, 1);
    EXPECT_TRUE(job.ok()) << job.error().message;
    auto id = records_->begin(*job, bench, 2);
    EXPECT_TRUE(id.ok()) << id.error().message;
    store::RunRow run = **records_->run(*id);
    run.state = "complete", run.verdict = verdict == "fail" ? "fail" : "pass", run.ended = 3;
    std::vector<store::CheckRow> checks{{"limits", "pass", "", "", false}};
    if (!verdict.empty()) checks.push_back({"neutral", verdict, "off by 9 us", "", false});
    run.checks = static_cast<int>(checks.size()), run.failed = verdict == "fail";
    const auto done = records_->finish(run, checks, {}, false);
    EXPECT_TRUE(done.ok()) << done.error().message;
    return *id;
  }
  json broken(std::int64_t run) {
    const auto answer = broke(*records_, **records_->run(run));
    EXPECT_TRUE(answer.ok()) << answer.error().message;
    EXPECT_EQ(answer->size(), 1u);
    return (*answer)[0];
  }
  void expect_before(const json& broken, const std::string& before, json run) {
    EXPECT_EQ(broken["before"], before);
    EXPECT_EQ(broken["before_run"], run);
    EXPECT_EQ(broken["new"], before == "pass");
  }

  fs::path file_;
  std::unique_ptr<store::Records> records_;
};

TEST_F(Broke, AFirstRunEverHasNoBefore) { expect_before(broken(ran("fail")), "none", nullptr); }

TEST_F(Broke, WhatPassedBeforeIsNewAndNamesThatRun) {
  const auto good = ran("pass");
  expect_before(broken(ran("fail")), "pass", good);
}

TEST_F(Broke, WhatFailedBeforeIsNotNew) {
  ran("pass");
  const auto bad = ran("fail");
  expect_before(broken(ran("fail")), "fail", bad);
}

TEST_F(Broke, OtherBenchesAndPlansSayNothing) {
  ran("pass", "right desk");
  ran("fail", "left desk", "soak");
  expect_before(broken(ran("fail")), "none", nullptr);
}

TEST_F(Broke, ARunThatDidNotJudgeTheCheckIsPassedOver) {
  const auto good = ran("pass");
  ran("");
  ran("inconclusive");
  expect_before(broken(ran("fail")), "pass", good);
}

}  // namespace
}  // namespace midstick::service
