// Every file of the corpus against the reader. The first line of a bad file says what the complaint must contain:
// "// expect: LINE AND POINTER AND WORDS". The outside validator reads the same files (agree_corpus.mjs).
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "daemon/script/load.hpp"
#include "daemon/script/readers.hpp"

namespace midstick::script {
namespace {

namespace fs = std::filesystem;

std::vector<std::string> files(const std::string& folder) {
  std::vector<std::string> out;
  for (const auto& entry : fs::directory_iterator(std::string(MIDSTICK_CORPUS "/") + folder)) out.push_back(entry.path().string());
  std::ranges::sort(out);
  return out;
}

std::string text_of(const std::string& path) {
  std::ifstream in(path);
  std::stringstream text;
  text << in.rdbuf();
  return text.str();
}

std::string expectation(const std::string& path) {
  const std::string text = text_of(path), lead = "// expect: ";
  EXPECT_TRUE(text.starts_with(lead)) << path;
  return text.substr(lead.size(), text.find('\n') - lead.size());
}

void expect_complaint(const std::string& path) {
  const auto answer = validate_file(path);
  ASSERT_FALSE(answer) << path << " was accepted";
  EXPECT_EQ(answer.error().kind, ErrorKind::bad_file);
  const std::string expected = expectation(path);
  // A fragment that starts with ":" is the complaint about this very file.
  const std::string fragment = expected.starts_with(":") ? path + expected : expected;
  EXPECT_NE(answer.error().message.find(fragment), std::string::npos)
      << "complaint: " << answer.error().message << "\nexpected:  " << fragment;
}

std::string test_name(const ::testing::TestParamInfo<std::string>& info) {
  std::string name = fs::path(info.param).stem().string();
  std::ranges::replace(name, '-', '_');
  return name;
}

class GoodFile : public ::testing::TestWithParam<std::string> {};
TEST_P(GoodFile, IsAccepted) {
  const auto answer = validate_file(GetParam());
  ASSERT_TRUE(answer) << answer.error().message;
  EXPECT_FALSE(answer->name.empty());
}
INSTANTIATE_TEST_SUITE_P(Corpus, GoodFile, ::testing::ValuesIn(files("good")), test_name);

class BadFile : public ::testing::TestWithParam<std::string> {};
TEST_P(BadFile, IsRefusedWithPlaceAndWords) {
  expect_complaint(GetParam());
  EXPECT_FALSE(read_source(text_of(GetParam()), "x")) << "the schema alone must refuse it";
}
INSTANTIATE_TEST_SUITE_P(Corpus, BadFile, ::testing::ValuesIn(files("bad")), test_name);

class MeaninglessFile : public ::testing::TestWithParam<std::string> {};
TEST_P(MeaninglessFile, IsRefusedWithPlaceAndWords) { expect_complaint(GetParam()); }
INSTANTIATE_TEST_SUITE_P(Corpus, MeaninglessFile, ::testing::ValuesIn(files("bad-meaning")), test_name);

TEST(ValidateFile, NamesTheKind) {
  const auto answer = validate_file(MIDSTICK_CORPUS "/good/sticks-least.json");
  ASSERT_TRUE(answer) << answer.error().message;
  EXPECT_EQ(answer->kind, FileKind::sticks);
  EXPECT_EQ(answer->name, "there and back");
}

TEST(ValidateFile, MissingFileIsABadFile) {
  const auto answer = validate_file("no/such/file.json");
  ASSERT_FALSE(answer);
  EXPECT_EQ(answer.error().kind, ErrorKind::bad_file);
  EXPECT_NE(answer.error().message.find("no/such/file.json: found no such file"), std::string::npos);
}

TEST(ValidateFile, FolderIsNoFile) { EXPECT_FALSE(validate_file(MIDSTICK_CORPUS)); }

}  // namespace
}  // namespace midstick::script
