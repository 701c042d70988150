#include "daemon/service/work.hpp"

#include <gtest/gtest.h>

#include "daemon/service/config.hpp"

namespace midstick::service {
namespace {

/// What is said of the disk before the work began must be true: a first look at the page came before it, and was told of a full disk.
TEST(Work, KnowsItsDiskAsSoonAsItIsConfigured) {
  boost::asio::io_context io;
  RecordsDesk records(
      io, "", [](store::Records&) -> Status { return Ok{}; }, [] { return std::vector<std::int64_t>{}; });
  Benches benches;
  Work work(io, records, benches, {});
  auto config = std::make_shared<Config>();
  config->keep = ::testing::TempDir();
  work.configure(config);
  EXPECT_GT(work.free_bytes(), 0);
}

}  // namespace
}  // namespace midstick::service
