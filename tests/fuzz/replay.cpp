// Runs a fuzz target on every kept input, so that an old finding stays found. An input is any file in the target's seed folder.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace {

namespace fs = std::filesystem;

std::vector<std::string> seeds() {
  std::vector<std::string> out;
  for (const auto& entry : fs::directory_iterator(MIDSTICK_SEEDS)) out.push_back(entry.path().string());
  std::ranges::sort(out);
  return out;
}

std::string test_name(const ::testing::TestParamInfo<std::string>& info) {
  std::string name = fs::path(info.param).stem().string();
  std::ranges::replace_if(
      name, [](unsigned char c) { return !std::isalnum(c); }, '_');
  return name;
}

class Seed : public ::testing::TestWithParam<std::string> {};

TEST_P(Seed, BreaksNothing) {
  std::ifstream in(GetParam(), std::ios::binary);
  ASSERT_TRUE(in);
  const std::vector<char> bytes{std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
  EXPECT_EQ(LLVMFuzzerTestOneInput(reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size()), 0);
}

INSTANTIATE_TEST_SUITE_P(Kept, Seed, ::testing::ValuesIn(seeds()), test_name);

}  // namespace
