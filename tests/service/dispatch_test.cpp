#include "daemon/service/dispatch.hpp"

#include <gtest/gtest.h>

namespace midstick::service {
namespace {

store::Job job(std::int64_t id, std::string bench, std::vector<std::string> labels = {}) {
  store::Job j;
  j.id = id;
  j.request.bench = std::move(bench);
  j.request.labels = std::move(labels);
  return j;
}

const std::vector<BenchView> kTwo{{"left-desk", {"mower"}, true, false}, {"right-desk", {"mower", "esc"}, true, false}};

TEST(Dispatch, EveryFreeBenchGetsTheBestJobThatFitsIt) {
  const auto got = dispatch({job(1, ""), job(2, ""), job(3, "")}, kTwo);
  ASSERT_EQ(got.size(), 2u);
  EXPECT_EQ(got[0].job, 1);
  EXPECT_EQ(got[0].bench, "left-desk");
  EXPECT_EQ(got[1].job, 2);
}

TEST(Dispatch, AJobThatWaitsDoesNotHoldUpThoseBehindIt) {
  auto benches = kTwo;
  benches[0].busy = true;
  const auto got = dispatch({job(1, "left-desk"), job(2, "right-desk")}, benches);
  ASSERT_EQ(got.size(), 1u);
  EXPECT_EQ(got[0].job, 2);
}

TEST(Dispatch, LabelsMustAllBeThere) {
  const auto got = dispatch({job(1, "", {"esc", "mower"}), job(2, "", {"esc"})}, kTwo);
  ASSERT_EQ(got.size(), 1u);
  EXPECT_EQ(got[0].bench, "right-desk");
}

TEST(Dispatch, AMissingBenchGetsNothing) {
  auto benches = kTwo;
  benches[0].present = false;
  const auto got = dispatch({job(1, "left-desk"), job(2, "")}, benches);
  ASSERT_EQ(got.size(), 1u);
  EXPECT_EQ(got[0].bench, "right-desk");
}

TEST(Dispatch, AHeldBenchGetsNothingUntilItIsReleased) {
  auto benches = kTwo;
  benches[0].held = true;
  EXPECT_TRUE(dispatch({job(1, "left-desk")}, benches).empty());
  EXPECT_EQ(waits_for(job(1, "left-desk").request, benches), "a person to release left-desk, where the stop loop opened");
  EXPECT_EQ(dispatch({job(1, "")}, benches).at(0).bench, "right-desk");
}

TEST(WaitsFor, SaysWhatAPersonCanChange) {
  auto benches = kTwo;
  EXPECT_EQ(waits_for(job(1, "left-desk").request, benches), "");
  benches[0].busy = true;
  EXPECT_EQ(waits_for(job(1, "left-desk").request, benches), "another job on left-desk");
  benches[0].present = false;
  EXPECT_EQ(waits_for(job(1, "left-desk").request, benches), "a bench that is not there: left-desk");
  EXPECT_EQ(waits_for(job(1, "", {"boat"}).request, benches), "a bench with the labels boat, which none has");
  EXPECT_EQ(waits_for(job(1, "attic").request, benches), "bench attic, which is not configured");
}

}  // namespace
}  // namespace midstick::service
