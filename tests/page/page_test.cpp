// The page as it is built in: whole, ordered, closed in itself, and nothing in it that its own content security policy would refuse.
#include "daemon/page/page.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <regex>
#include <sstream>

namespace midstick::page {
namespace {

namespace fs = std::filesystem;
const fs::path kPage = MIDSTICK_PAGE;

std::string slurp(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

/// Paths that a text refers to by `pattern`, seen from the folder of `path`.
std::vector<std::string> references(const Asset& asset, const std::string& pattern) {
  std::vector<std::string> found;
  const std::string text(asset.bytes);
  const std::regex reference(pattern);
  for (std::sregex_iterator i(text.begin(), text.end(), reference), end; i != end; ++i)
    found.push_back((fs::path(asset.path).parent_path() / (*i)[1].str()).lexically_normal().string());
  return found;
}

TEST(Page, HoldsEveryFileOfTheSiteByteForByte) {
  std::size_t seen = 0;
  for (const auto& entry : fs::recursive_directory_iterator(kPage / "site")) {
    if (!entry.is_regular_file()) continue;
    const auto path = fs::relative(entry.path(), kPage / "site").string();
    const Asset* asset = find(path);
    ASSERT_NE(asset, nullptr) << path;
    EXPECT_EQ(asset->bytes, slurp(entry.path())) << path;
    ++seen;
  }
  EXPECT_GT(seen, 20U);
  EXPECT_EQ(assets().size(), seen + 3) << "uPlot's program, style and licence are what comes from elsewhere";
}

TEST(Page, IsOrderedByPathSoThatEachIsFound) {
  EXPECT_TRUE(std::ranges::is_sorted(assets(), {}, &Asset::path));
  for (const auto& asset : assets()) EXPECT_EQ(find(asset.path), &asset);
}

TEST(Page, EmptyPathIsTheIndexAndUnknownPathsAreNone) {
  ASSERT_NE(find(""), nullptr);
  EXPECT_EQ(find("")->path, "index.html");
  EXPECT_EQ(find("")->content_type, "text/html; charset=utf-8");
  for (const char* path : {"nothing.js", "../page.hpp", "/index.html", "index.htm", "z"}) EXPECT_EQ(find(path), nullptr) << path;
}

TEST(Page, EverythingThatItRefersToIsInIt) {
  int seen = 0;
  for (const auto& asset : assets()) {
    const bool html = asset.path.ends_with(".html");
    if (!html && !asset.path.ends_with(".js")) continue;
    for (const auto& path : references(asset, html ? R"re((?:src|href)="([^"#][^"]*)")re" : R"re((?:from|import) "(\.[^"]+)")re")) {
      EXPECT_NE(find(path), nullptr) << asset.path << " refers to " << path;
      ++seen;
    }
  }
  EXPECT_GT(seen, 40) << "the test looked at next to nothing";
}

TEST(Page, AsksNobodyElseAndWritesNoScriptOrStyleIntoMarkup) {
  const std::regex outside(R"re((?:src|href|url|from|fetch|import)\s*[=("]+\s*["']?(?:https?:)?//)re");
  const std::regex inlined(R"re(<script>|<style|\sstyle="|\son[a-z]+="|javascript:|innerHTML|insertAdjacentHTML|eval\()re");
  for (const auto& asset : assets()) {
    if (asset.path.starts_with("vendor/")) continue;
    const std::string text(asset.bytes);
    EXPECT_FALSE(std::regex_search(text, outside)) << asset.path;
    EXPECT_FALSE(std::regex_search(text, inlined)) << asset.path;
  }
}

TEST(Page, PolicyTakesEverythingFromItsOwnOrigin) {
  EXPECT_TRUE(kContentSecurityPolicy.starts_with("default-src 'self';"));
  EXPECT_EQ(kContentSecurityPolicy.find("unsafe"), std::string_view::npos);
  EXPECT_EQ(kContentSecurityPolicy.find('*'), std::string_view::npos);
}

}  // namespace
}  // namespace midstick::page
