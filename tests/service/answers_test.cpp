#include "daemon/service/answers.hpp"

#include <gtest/gtest.h>

namespace midstick::service {
namespace {

// RFC 3339 section 5.8 gives these instants and says what they equal.
TEST(TimeText, ReadsTheExamplesOfRfc3339) {
  EXPECT_EQ(time_of("1985-04-12T23:20:50.52Z"), 482'196'050'520);
  EXPECT_EQ(time_of("1996-12-19T16:39:57-08:00"), time_of("1996-12-20T00:39:57Z"));
  EXPECT_EQ(time_of("1937-01-01T12:00:27.87+00:20"), time_of("1937-01-01T11:40:27.87Z"));
}

TEST(TimeText, GivesWhatItReads) {
  for (const store::UnixMs at : {0LL, 1'795'000'123'456LL, 482'196'050'520LL}) EXPECT_EQ(time_of(time_text(at)), at);
  EXPECT_EQ(time_text(482'196'050'520), "1985-04-12T23:20:50.520Z");
}

TEST(TimeText, RefusesWhatIsNoInstant) {
  for (const char* wrong : {"", "yesterday", "2026-11-25", "2026-11-25T10:00:00", "2026-13-01T00:00:00Z", "2026-11-25T10:00:00Z!"})
    EXPECT_FALSE(time_of(wrong)) << wrong;
}

TEST(JobStateName, ComesBack) {
  for (const auto s :
       {store::JobState::queued, store::JobState::running, store::JobState::done, store::JobState::cancelled, store::JobState::interrupted})
    EXPECT_EQ(job_state(name(s)), s);
  EXPECT_FALSE(job_state("lost"));
}

}  // namespace
}  // namespace midstick::service
