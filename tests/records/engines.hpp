// Every promise of records.hpp is tested on both engines: a test of AnyEngine runs once over SQLite and once over PostgreSQL, each with a
// new database.
#pragma once

#include <gtest/gtest.h>

#include <filesystem>
#include <memory>
#include <string>

#include "daemon/store/database.hpp"
#include "daemon/store/records.hpp"

namespace midstick::records_test {

/// Folder that goes with its owner.
class ScratchFolder {
 public:
  ScratchFolder();
  ~ScratchFolder();
  ScratchFolder(const ScratchFolder&) = delete;
  ScratchFolder& operator=(const ScratchFolder&) = delete;
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

enum class Kind { sqlite, postgres };
std::string name(Kind kind);

class AnyEngine : public testing::TestWithParam<Kind> {
 protected:
  AnyEngine();

  /// One more connection to the same database.
  std::unique_ptr<store::Records> open();
  /// The connection below the records, to ask and to spoil with SQL.
  std::unique_ptr<store::Database> open_database();

  ScratchFolder scratch_;
  std::string where_;  ///< for Records::open
};

/// Records of a new database beside the database that they use.
class WithRecords : public AnyEngine {
 protected:
  void SetUp() override;
  std::unique_ptr<store::Records> records_;
  store::Database* database_{nullptr};  ///< of records_
};

#define MIDSTICK_ON_BOTH_ENGINES(Suite)                                                   \
  INSTANTIATE_TEST_SUITE_P(Records, Suite, testing::Values(Kind::sqlite, Kind::postgres), \
                           [](const testing::TestParamInfo<Kind>& info) { return name(info.param); })

// What most tests need: a request, and a run that is played and ends.
store::JobRequest request(const std::string& build = "rev A");
store::RunRow ended(const store::RunRow& run, const std::string& verdict, store::UnixMs at);
/// Submits, begins and finishes one run; its row as kept.
store::RunRow play(store::Records& records, const store::JobRequest& job, const std::string& verdict, store::UnixMs at,
                   const std::vector<store::CheckRow>& checks = {}, const std::vector<store::MetricRow>& metrics = {});

/// The value, or a failure of the test that says why not and a default.
template <class T>
T must(Result<T> result) {
  if (result) return result.take();
  ADD_FAILURE() << result.error().message;
  return T{};
}
inline void must(const Status& status) { EXPECT_TRUE(status.ok()) << status.error().message; }

}  // namespace midstick::records_test
