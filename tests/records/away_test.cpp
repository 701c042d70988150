// When the database is full, read-only, locked or gone: calls fail and say so, nothing acknowledged is lost, and they work again when it is
// back.
#include <signal.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <atomic>
#include <thread>

#include "daemon/store/migrations.hpp"
#include "tests/records/engines.hpp"
#include "tests/records/postgres_server.hpp"

namespace midstick::records_test {
namespace {

namespace fs = std::filesystem;

class Away : public WithRecords {
 protected:
  void expect_away(const Status& status) {
    EXPECT_FALSE(status.ok());
    EXPECT_TRUE(records_->away());
  }
  Status submit() {
    auto id = records_->submit(request(), 1);
    return id ? Status(Ok{}) : id.error();
  }
  std::size_t jobs() { return must(records_->queue()).size(); }
};
MIDSTICK_ON_BOTH_ENGINES(Away);

TEST_P(Away, ReadOnlyReadsOnAndWritesAgainWhenItMay) {
  must(submit());
  must(database_->query(GetParam() == Kind::sqlite ? "PRAGMA query_only = 1" : "SET default_transaction_read_only = on"));
  expect_away(submit());
  expect_away(records_->probe());
  expect_away(records_->begin(1, "left bench", 2).ok() ? Status(Ok{}) : Status(Error{}));
  EXPECT_EQ(jobs(), 1u);
  EXPECT_FALSE(records_->away()) << "reading went well";
  must(database_->query(GetParam() == Kind::sqlite ? "PRAGMA query_only = 0" : "SET default_transaction_read_only = off"));
  must(records_->probe());
  must(submit());
  EXPECT_EQ(jobs(), 2u);
}

TEST_P(Away, AFullDiskLosesNothingThatWasAcknowledged) {
  const auto run = must(records_->run(must(records_->begin(must(records_->submit(request(), 1)), "left bench", 2))));
  if (GetParam() == Kind::sqlite) {
    must(database_->query("PRAGMA max_page_count = 1"));  // means: not one page more than there is
  } else {
    must(
        database_->query("CREATE FUNCTION full_disk() RETURNS trigger AS $f$ BEGIN RAISE EXCEPTION 'No space left on device' USING ERRCODE "
                         "= 'disk_full'; END $f$ LANGUAGE plpgsql"));
    must(database_->query("CREATE TRIGGER full_disk BEFORE INSERT ON metric EXECUTE FUNCTION full_disk()"));
  }
  const std::vector<store::MetricRow> many(2000, {"neutral", "µs", 1500, 0.1});
  expect_away(records_->finish(ended(*run, "pass", 9), {{"neutral", "pass", "", "", false}}, many, false));
  EXPECT_EQ(must(records_->run(run->id))->state, "running");
  EXPECT_TRUE(must(records_->checks(run->id)).empty());
  must(database_->query(GetParam() == Kind::sqlite ? "PRAGMA max_page_count = 1000000" : "DROP TRIGGER full_disk ON metric"));
  must(records_->finish(ended(*run, "pass", 9), {{"neutral", "pass", "", "", false}}, many, false));
  EXPECT_EQ(must(records_->metrics(run->id)).size(), 2000u);
}

TEST_P(Away, AnotherThatHoldsTheLockTooLongIsAwayToo) {
  must(submit());
  auto other = open_database();
  must(database_->query(GetParam() == Kind::sqlite ? "PRAGMA busy_timeout = 1" : "SET lock_timeout = 1"));
  must(other->transaction([&]() -> Status {
    must(other->query("UPDATE job SET note = 'held'"));
    expect_away(records_->begin(must(records_->queue())[0].id, "left bench", 2).ok() ? Status(Ok{}) : Status(Error{}));
    return Ok{};
  }));
  must(records_->begin(must(records_->queue())[0].id, "left bench", 2));
}

TEST_P(Away, AFailureInsideATransactionFailsTheWhole) {
  auto other = open_database();
  const auto done = other->transaction([&]() -> Status {
    must(
        other->query("INSERT INTO job (plan, controller, build, bench, labels, document, checks, priority, tries, submitted) VALUES ('', "
                     "'', '', '', '', '', '', 0, 1, 0)"));
    (void)other->query("SELECT no_such_column FROM job");
    return Ok{};  // whoever wrote this forgot to look
  });
  EXPECT_FALSE(done.ok());
  EXPECT_FALSE(other->away());
  EXPECT_EQ(jobs(), 0u);
}

// SQLite's own ways to be away.

class SqliteAway : public testing::Test {
 protected:
  ScratchFolder scratch_;
  fs::path file_{scratch_.path() / "midstick.db"};
  std::string where_{"sqlite:" + file_.string()};
};

/// What `child` says in a process of its own.
template <class Child>
int in_child(Child child) {
  const pid_t pid = ::fork();
  if (pid == 0) ::_exit(child());
  int status = 0;
  ::waitpid(pid, &status, 0);
  EXPECT_TRUE(WIFEXITED(status));
  return WEXITSTATUS(status);
}

TEST_F(SqliteAway, AFileThatIsTakenAwayIsNeitherWrittenOnNorMadeAnew) {
  auto records = must(store::Records::open(where_));
  must(records->submit(request(), 1));
  const fs::path elsewhere = scratch_.path() / "elsewhere.db";
  fs::rename(file_, elsewhere);
  for (int i = 0; i < 2; ++i) {
    EXPECT_FALSE(records->submit(request(), 2).ok());
    EXPECT_TRUE(records->away());
    EXPECT_FALSE(fs::exists(file_));
  }
  fs::rename(elsewhere, file_);
  must(records->probe());
  must(records->submit(request(), 3));
  EXPECT_EQ(must(records->queue()).size(), 2u);
}

/// Permissions stop anybody but root, so the child becomes nobody, and root again to give them back.
TEST_F(SqliteAway, AReadOnlyFileIsReadAndWrittenAgainWhenItMay) {
  must(must(store::Records::open(where_))->submit(request(), 1));
  fs::permissions(scratch_.path(), fs::perms{0755});
  fs::permissions(file_, fs::perms{0444});
  // Somebody keeps the file open, so that its log is there and the reader need not make one.
  auto keeper = must(store::open_sqlite(file_.string()));
  must(keeper->query("SELECT COUNT(*) FROM job"));
  const auto permit = [&](fs::perms perms) {
    for (const auto& entry : fs::directory_iterator(scratch_.path())) fs::permissions(entry.path(), perms);
  };
  permit(fs::perms{0444});
  EXPECT_EQ(in_child([&] {
              const uid_t owner = ::geteuid();
              if (owner == 0 && ::seteuid(65534) != 0) return 1;
              auto records = store::Records::open(where_);
              if (!records) return 2;
              if (auto queue = (*records)->queue(); !queue || queue->size() != 1) return 3;
              if ((*records)->submit(request(), 2).ok()) return 4;
              if (!(*records)->away()) return 5;
              if (::seteuid(owner) != 0) return 6;
              permit(fs::perms{0666});
              if (owner == 0 && ::seteuid(65534) != 0) return 7;
              (void)(*records)->probe();  // may still find the connection that was opened read-only
              if (!(*records)->probe() || (*records)->away()) return 8;
              if (!(*records)->submit(request(), 3)) return 9;
              if (auto queue = (*records)->queue(); !queue || queue->size() != 2) return 10;
              return 0;
            }),
            0);
}

/// A disk that is full in the middle of a write: the process may make no file longer than a bit more than they are.
TEST_F(SqliteAway, AWriteThatTheDiskCutsShortIsUndone) {
  EXPECT_EQ(in_child([&] {
              auto records = store::Records::open(where_);
              if (!records || !(*records)->submit(request(), 1)) return 1;
              ::signal(SIGXFSZ, SIG_IGN);
              rlimit limit{};
              ::getrlimit(RLIMIT_FSIZE, &limit);
              const rlimit small{fs::file_size(file_.string() + "-wal") + 100'000, limit.rlim_max};
              if (::setrlimit(RLIMIT_FSIZE, &small) != 0) return 2;
              int kept = 1;
              store::JobRequest big = request();
              big.document = std::string(20'000, 'x');
              while ((*records)->submit(big, 2).ok())
                if (++kept > 100) return 3;
              if (!(*records)->away()) return 4;
              ::setrlimit(RLIMIT_FSIZE, &limit);
              if (!(*records)->probe() || (*records)->away()) return 5;
              if (auto queue = (*records)->queue(); !queue || static_cast<int>(queue->size()) != kept) return 6;
              if (!(*records)->submit(big, 3)) return 7;
              return 0;
            }),
            0);
}

TEST_F(SqliteAway, AFileThatIsNoDatabaseIsLeftAsItIs) {
  const std::string text(5000, 'n');
  {
    std::FILE* out = std::fopen(file_.c_str(), "w");
    std::fwrite(text.data(), 1, text.size(), out);
    std::fclose(out);
  }
  EXPECT_FALSE(store::Records::open(where_).ok());
  EXPECT_EQ(fs::file_size(file_), text.size());
}

// PostgreSQL's.

TEST(PostgresAway, AServerThatStopsAndStartsIsFoundAgain) {
  auto& server = PostgresServer::the();
  auto records = must(store::Records::open("postgresql:" + server.fresh_database()));
  const auto job = must(records->submit(request(), 1));
  const auto run = must(records->run(must(records->begin(job, "left bench", 2))));
  server.stop();
  for (int i = 0; i < 2; ++i) {
    EXPECT_FALSE(records->finish(ended(*run, "pass", 9), {}, {}, false).ok());
    EXPECT_TRUE(records->away());
    EXPECT_FALSE(records->probe().ok());
    EXPECT_TRUE(records->away());
  }
  server.start();
  must(records->probe());
  EXPECT_FALSE(records->away());
  EXPECT_EQ(must(records->run(run->id))->state, "running");
  must(records->finish(ended(*run, "pass", 9), {}, {}, false));
  EXPECT_EQ(must(records->job(job))->state, store::JobState::done);
  // Started again between two calls: the next finds out, the one after that works.
  server.stop();
  server.start();
  EXPECT_FALSE(records->submit(request(), 10).ok());
  EXPECT_TRUE(records->away());
  must(records->submit(request(), 10));
  EXPECT_EQ(must(records->queue()).size(), 1u);
}

TEST(PostgresAway, AConnectionThatBreaksInsideATransactionLeavesNothingOfIt) {
  const std::string where = PostgresServer::the().fresh_database();
  auto database = must(store::open_postgres(where));
  must(store::migrate(*database));
  auto other = must(store::open_postgres(where));
  const std::string insert =
      "INSERT INTO job (plan, controller, build, bench, labels, document, checks, priority, tries, submitted) VALUES ('', '', '', '', '', "
      "'', '', 0, 1, 0)";
  const auto done = database->transaction([&]() -> Status {
    must(database->query(insert));
    const auto pid = must(database->query("SELECT pg_backend_pid()"))[0][0];
    must(other->query("SELECT pg_terminate_backend(CAST($1 AS INT), 60000)", {pid}));
    // Neither may go to a new connection, outside the transaction; with values libpqxx goes another way.
    (void)database->query(insert + " RETURNING CAST($1 AS BIGINT)", {std::int64_t{1}});
    (void)database->query(insert);
    return Ok{};
  });
  EXPECT_FALSE(done.ok());
  EXPECT_TRUE(database->away());
  EXPECT_EQ(std::get<std::int64_t>(must(database->query("SELECT COUNT(*) FROM job"))[0][0]), 0);
}

/// A killed daemon's finish() may still be on its way when the next one recovers; the server then throws one of the two out.
TEST(PostgresAway, AnEmbraceWithAnotherTransactionIsNotTheCallersFault) {
  const std::string where = PostgresServer::the().fresh_database();
  auto records = must(store::Records::open("postgresql:" + where));
  const auto job = must(records->submit(request(), 1));
  const auto run = must(records->begin(job, "left bench", 2));
  auto dead = must(store::open_postgres(where)), watcher = must(store::open_postgres(where));
  bool recovered = false;
  std::atomic<bool> over{false};  // by the time limit on locks, if by nothing else
  std::thread recovery;
  const auto done = dead->transaction([&]() -> Status {
    must(dead->query("UPDATE run SET summary = 'held' WHERE id = $1", {run}));
    recovery = std::thread([&] {
      recovered = records->recover(3).ok();
      over = true;
    });
    for (std::int64_t waiting = 0; waiting == 0 && !over;)
      waiting = std::get<std::int64_t>(
          must(watcher->query("SELECT COUNT(*) FROM pg_locks WHERE NOT granted AND relation = 'run'::regclass")).at(0).at(0));
    auto rows = dead->query("UPDATE job SET note = 'held' WHERE id = $1", {job});
    return rows ? Status(Ok{}) : rows.error();
  });
  recovery.join();
  EXPECT_NE(done.ok(), recovered) << "one of the two";
  EXPECT_TRUE(recovered ? dead->away() : records->away());
  must(records->recover(4));
  EXPECT_EQ(must(records->run(run))->state, "interrupted");
}

TEST(PostgresAway, WhatAServerSetsOtherwiseDoesNotCount) {
  const std::string where = PostgresServer::the().fresh_database();
  auto admin = must(store::open_postgres(where));
  const auto name = std::get<std::string>(must(admin->query("SELECT CAST(current_database() AS TEXT)")).at(0).at(0));
  for (const char* setting : {"extra_float_digits = 0", "default_transaction_isolation = 'serializable'", "synchronous_commit = off"})
    must(admin->query("ALTER DATABASE " + name + " SET " + setting));
  auto records = must(store::Records::open("postgresql:" + where));
  const auto run = play(*records, request(), "pass", 1, {}, {{"third", "ms", 1.0 / 3, {}}});
  EXPECT_EQ(must(records->metrics(run.id)).at(0).value, 1.0 / 3);
  auto session = must(store::open_postgres(where));
  EXPECT_EQ(must(session->query("SHOW transaction_isolation")).at(0).at(0), store::Value("read committed"));
  EXPECT_EQ(must(session->query("SHOW synchronous_commit")).at(0).at(0), store::Value("on"));
}

TEST(PostgresAway, AnAddressMayBeAUriWithOptionsOfItsOwn) {
  const std::string where = PostgresServer::the().fresh_database();  // host=FOLDER user=midstick dbname=NAME
  const auto host = where.substr(5, where.find(' ') - 5), name = where.substr(where.rfind('=') + 1);
  const std::string uri = "postgresql://midstick@/" + name + "?host=" + host;
  const auto called = [](const std::string& at) {
    auto session = must(store::open_postgres(at));
    return must(session->query("SHOW application_name")).at(0).at(0);
  };
  EXPECT_EQ(called(uri), store::Value("midstick"));
  EXPECT_EQ(called(uri + "&application_name=second"), store::Value("second"));
  EXPECT_EQ(called(where + " application_name=third"), store::Value("third"));
  must(must(store::Records::open(uri))->submit(request(), 1));
}

TEST(PostgresAway, NoServerAtAllIsSaidSo) {
  const auto opened = store::Records::open("postgresql:host=/no/such/folder dbname=midstick password=secret");
  ASSERT_FALSE(opened.ok());
  EXPECT_EQ(opened.error().kind, ErrorKind::io);
  EXPECT_EQ(opened.error().message.find("secret"), std::string::npos);
}

}  // namespace
}  // namespace midstick::records_test
