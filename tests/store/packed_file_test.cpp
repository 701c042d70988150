// A capture packed beside its run: one whole file is there at every instant, and it is read from either.
#include "daemon/store/packed_file.hpp"

#include <gtest/gtest.h>
#include <signal.h>
#include <sys/ptrace.h>
#include <sys/wait.h>
#include <unistd.h>

#include <nlohmann/json.hpp>
#include <random>

#include "daemon/store/files.hpp"
#include "daemon/store/run_folder.hpp"

namespace midstick::store {
namespace {

namespace fs = std::filesystem;
constexpr std::size_t kPlenty = std::size_t{1} << 24;

class PackedFile : public testing::Test {
 protected:
  PackedFile() {
    std::string pattern = (fs::temp_directory_path() / "midstick-packed-XXXXXX").string();
    folder_ = ::mkdtemp(pattern.data());
    file_ = folder_ / "capture.json";
    packed_ = folder_ / "capture.json.zst";
  }
  ~PackedFile() override { fs::remove_all(folder_); }
  void write(const fs::path& path, std::string_view text) { ASSERT_TRUE(replace_file(path, text).ok()); }
  std::string raw(const fs::path& path) { return read_file(path, kPlenty).take(); }

  fs::path folder_, file_, packed_;
};

TEST_F(PackedFile, ReadsTheSameBeforeAndAfterAndIsSmaller) {
  std::mt19937 lot(7);
  std::string text;
  for (int i = 0; i < 100'000; ++i) text += std::to_string(lot() % 20 + 16'000) + ",";
  for (const std::string& content : {text, std::string(), std::string("x"), std::string(1 << 20, '\0')}) {
    write(file_, content);
    EXPECT_EQ(read_packed_file(file_, kPlenty).value(), content);
    ASSERT_TRUE(pack_file(file_).ok());
    EXPECT_FALSE(fs::exists(file_));
    EXPECT_EQ(read_packed_file(file_, kPlenty).value(), content);
    EXPECT_TRUE(pack_file(file_).ok()) << "packed already";
    if (content.size() > 1000) {
      EXPECT_LT(fs::file_size(packed_), content.size() / 2);
    }
    fs::remove(packed_);
  }
}

TEST_F(PackedFile, DamageIsFoundWhereverItIs) {
  std::string text;
  for (int i = 0; i < 3000; ++i) text += std::to_string(i * i) + " ";
  write(file_, text);
  ASSERT_TRUE(pack_file(file_).ok());
  const std::string whole = raw(packed_);
  for (std::size_t cut = 0; cut < whole.size(); cut += 97) {
    write(packed_, std::string_view(whole).substr(0, cut));
    const auto back = read_packed_file(file_, kPlenty);
    ASSERT_FALSE(back.ok()) << "cut at " << cut;
    EXPECT_EQ(back.error().kind, ErrorKind::bad_file);
  }
  std::mt19937 lot(7);
  for (int i = 0; i < 200; ++i) {
    std::string spoilt = whole;
    spoilt[lot() % spoilt.size()] ^= static_cast<char>(1 + lot() % 255);
    write(packed_, spoilt);
    const auto back = read_packed_file(file_, kPlenty);
    if (back) {
      EXPECT_EQ(back.value(), text) << "spoilt and not noticed, seed 7, round " << i;
    }
  }
}

TEST_F(PackedFile, AFileThatUnpacksToMoreThanItMayIsRefused) {
  write(file_, std::string(1'000'000, 'x'));
  ASSERT_TRUE(pack_file(file_).ok());
  EXPECT_FALSE(read_packed_file(file_, 999'999).ok());
  EXPECT_TRUE(read_packed_file(file_, 1'000'000).ok());
}

TEST_F(PackedFile, NoFileAtAllNamesThePlainOne) {
  const auto back = read_packed_file(file_, kPlenty);
  ASSERT_FALSE(back.ok());
  EXPECT_NE(back.error().message.find("capture.json:"), std::string::npos) << back.error().message;
  EXPECT_FALSE(pack_file(file_).ok());
}

TEST_F(PackedFile, AKillAtEverySystemCallLeavesAWholeOne) {
  const std::string text(300'000, 'e');
  int plain = 0, packed = 0;
  for (int stop = 1;; ++stop) {
    write(file_, text);
    fs::remove(packed_);
    const pid_t child = ::fork();
    if (child == 0) {
      ::ptrace(PTRACE_TRACEME, 0, nullptr, nullptr);
      ::raise(SIGSTOP);
      ::_exit(pack_file(file_).ok() ? 0 : 1);
    }
    int status = 0;
    ::waitpid(child, &status, 0);
    bool over = false;
    for (int call = 0; call < stop && !over; ++call) {
      ::ptrace(PTRACE_SYSCALL, child, nullptr, nullptr);
      ::waitpid(child, &status, 0);
      over = WIFEXITED(status);
    }
    if (!over) {
      ::kill(child, SIGKILL);
      ::waitpid(child, &status, 0);
    }
    ASSERT_EQ(read_packed_file(file_, kPlenty).value(), text) << "killed at call " << stop;
    fs::exists(file_) ? ++plain : ++packed;
    ASSERT_TRUE(pack_file(file_).ok()) << "the next start packs what was left";
    ASSERT_EQ(read_packed_file(file_, kPlenty).value(), text);
    if (over) break;
  }
  EXPECT_GT(plain, 10);
  EXPECT_GT(packed, 1);
}

/// A page that shows a capture while another worker packs it.
TEST_F(PackedFile, IsReadAlsoWhenItIsPackedBetweenAnyTwoSystemCallsOfTheReader) {
  const std::string text(300'000, 'e');
  for (int stop = 1;; ++stop) {
    write(file_, text);
    fs::remove(packed_);
    const pid_t reader = ::fork();
    if (reader == 0) {
      ::ptrace(PTRACE_TRACEME, 0, nullptr, nullptr);
      ::raise(SIGSTOP);
      const auto back = read_packed_file(file_, kPlenty);
      ::_exit(back.ok() && back.value() == text ? 0 : 1);
    }
    int status = 0;
    ::waitpid(reader, &status, 0);
    bool over = false;
    for (int call = 0; call < stop && !over; ++call) {
      ::ptrace(PTRACE_SYSCALL, reader, nullptr, nullptr);
      ::waitpid(reader, &status, 0);
      over = WIFEXITED(status);
    }
    ASSERT_TRUE(pack_file(file_).ok());
    if (!over) {
      ::ptrace(PTRACE_DETACH, reader, nullptr, nullptr);
      ::waitpid(reader, &status, 0);
    }
    ASSERT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0) << "packed at call " << stop;
    if (!over) continue;
    EXPECT_GT(stop, 10);
    break;
  }
}

TEST_F(PackedFile, ARunWhoseCaptureIsPackedIsReadAndJudgedLikeAnyOther) {
  auto run = RunFolder::create(folder_ / "17", {{"started", "2026-01-01T00:00:00"}});
  ASSERT_TRUE(run.ok());
  capture::Capture capture;
  capture.complete = true;
  capture.response = {{{100}, 1, true, 1, false}, {{24'100}, 1, false, 1, false}};
  ASSERT_TRUE(run->write_plan({{"name", "nightly"}}).ok());
  ASSERT_TRUE(run->write_capture(capture).ok());
  ASSERT_TRUE(run->complete().ok());
  ASSERT_TRUE(pack_file(folder_ / "17" / "capture.json").ok());
  const auto back = read_run(folder_ / "17");
  ASSERT_TRUE(back.ok()) << back.error().message;
  EXPECT_EQ(back.value().capture.response.size(), 2u);
}

}  // namespace
}  // namespace midstick::store
