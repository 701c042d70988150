// The tables come up step by step in one transaction, old databases keep what they hold, newer ones are left alone.
#include "daemon/store/migrations.hpp"

#include <thread>

#include "tests/records/engines.hpp"

namespace midstick::records_test {
namespace {

using store::Migration;

class Migrations : public AnyEngine {
 protected:
  std::unique_ptr<store::Database> database_{open_database()};
  std::int64_t number(const std::string& sql) { return std::get<std::int64_t>(must(database_->query(sql)).at(0).at(0)); }
};
MIDSTICK_ON_BOTH_ENGINES(Migrations);

const std::vector<Migration> kTwoSteps{{"CREATE TABLE nut (id {id}, size BIGINT NOT NULL)"},
                                       {"ALTER TABLE nut ADD COLUMN colour TEXT", "UPDATE nut SET colour = 'grey'"}};
const std::vector<Migration> kOneStep{kTwoSteps[0]};

TEST_P(Migrations, AnOldDatabaseComesUpWithWhatItHolds) {
  must(store::migrate(*database_, kOneStep));
  must(database_->query("INSERT INTO nut (size) VALUES (8)"));
  must(store::migrate(*database_, kTwoSteps));
  EXPECT_EQ(number("SELECT COUNT(*) FROM nut WHERE colour = 'grey' AND size = 8"), 1);
  EXPECT_EQ(number("SELECT version FROM midstick_schema"), 2);
  must(store::migrate(*database_, kTwoSteps));
  EXPECT_EQ(number("SELECT COUNT(*) FROM midstick_schema"), 1);
}

TEST_P(Migrations, AStepThatFailsLeavesTheOldVersion) {
  must(store::migrate(*database_, kOneStep));
  const std::vector<Migration> broken{kTwoSteps[0], {kTwoSteps[1][0], "UPDATE no_such_table SET a = 1"}};
  EXPECT_FALSE(store::migrate(*database_, broken).ok());
  EXPECT_EQ(number("SELECT version FROM midstick_schema"), 1);
  EXPECT_FALSE(database_->query("SELECT colour FROM nut").ok());
  must(store::migrate(*database_, kTwoSteps));
}

TEST_P(Migrations, ANewerDatabaseIsRefusedAndLeftAlone) {
  must(store::migrate(*database_));
  must(database_->query("UPDATE midstick_schema SET version = 1000"));
  const auto opened = store::Records::open(where_);
  ASSERT_FALSE(opened.ok());
  EXPECT_EQ(opened.error().kind, ErrorKind::bad_file);
  EXPECT_NE(opened.error().message.find("version 1000"), std::string::npos) << opened.error().message;
  EXPECT_EQ(number("SELECT version FROM midstick_schema"), 1000);
}

TEST_P(Migrations, AReadyDatabaseIsOpenedWithoutWriting) {
  must(store::migrate(*database_));
  must(database_->query(GetParam() == Kind::sqlite ? "PRAGMA query_only = 1" : "SET default_transaction_read_only = on"));
  must(store::migrate(*database_));
}

TEST_P(Migrations, TwoThatOpenANewDatabaseAtOnceMakeItOnce) {
  std::unique_ptr<store::Records> here, there;
  std::thread beside([&] { there = must(store::Records::open(where_)); });
  here = must(store::Records::open(where_));
  beside.join();
  ASSERT_TRUE(here && there);
  EXPECT_EQ(number("SELECT COUNT(*) FROM midstick_schema"), 1);
  const auto job = must(here->submit(request(), 1));
  EXPECT_TRUE(must(there->job(job)).has_value());
}

TEST_P(Migrations, ForeignKeysAndStatesAreHeldByTheDatabase) {
  must(store::migrate(*database_));
  EXPECT_FALSE(database_->query("INSERT INTO run (job, plan, controller, build, bench, began) VALUES (77, '', '', '', '', 1)").ok());
  EXPECT_FALSE(database_->away());
  EXPECT_FALSE(database_->query("UPDATE job SET state = 'lost'").ok() && number("SELECT COUNT(*) FROM job") > 0);
}

TEST(Records, AnUnknownKindOfDatabaseIsSaidSo) {
  const auto opened = store::Records::open("mysterious:secret");
  ASSERT_FALSE(opened.ok());
  EXPECT_EQ(opened.error().kind, ErrorKind::usage);
  EXPECT_EQ(opened.error().message.find("secret"), std::string::npos) << "a connection may hold a password";
}

TEST(Records, AFolderThatIsNotThereIsSaidSo) {
  const auto opened = store::Records::open("sqlite:/no/such/folder/midstick.db");
  ASSERT_FALSE(opened.ok());
  EXPECT_NE(opened.error().message.find("/no/such/folder/midstick.db"), std::string::npos);
}

}  // namespace
}  // namespace midstick::records_test
