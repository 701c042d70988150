// Keeps the table of rooms in daemon/ARCHITECTURE.md true: every folder has a row, and no file includes from a room its row does not allow.
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <map>
#include <regex>
#include <set>
#include <sstream>
#include <string>
#include <vector>

namespace {

namespace fs = std::filesystem;
const fs::path kSource = MIDSTICK_SOURCE;

struct Room {
  std::string folder;          ///< "daemon/link/"
  std::set<std::string> uses;  ///< folders
};

std::string slurp(const fs::path& path) {
  std::ifstream in(path);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

/// A short name in the third column ("core", "protocol", "link's transport") to a folder of the rows above.
std::string folder_of(const std::string& word, const std::vector<Room>& above) {
  for (const auto& room : above)
    if (room.folder == word + "/" || room.folder.ends_with("/" + word + "/")) return room.folder;
  return "";
}

std::vector<Room> rooms_of_the_page() {
  std::vector<Room> rooms;
  const std::regex row(R"(^\| (`[^|]*`) \| [^|]* \| ([^|]*) \|$)");
  const std::regex folder(R"(`([a-z/]+/)`)");
  std::istringstream page(slurp(kSource / "daemon" / "ARCHITECTURE.md"));
  for (std::string line; std::getline(page, line);) {
    std::smatch match;
    if (!std::regex_match(line, match, row)) continue;
    const std::string names = match[1], uses = match[2];
    std::set<std::string> allowed;
    std::istringstream words(std::regex_replace(uses, std::regex(R"('s \w+)"), ""));
    for (std::string word; std::getline(words, word, ',');) {
      word = std::regex_replace(word, std::regex(R"(^ +| +$)"), "");
      if (word == "nothing") continue;
      if (word == "all above") {
        for (const auto& r : rooms) allowed.insert(r.folder);
        continue;
      }
      const std::string found = folder_of(word, rooms);
      EXPECT_FALSE(found.empty()) << "the page allows \"" << word << "\" for " << names << ", which is no row above it";
      allowed.insert(found);
    }
    for (std::sregex_iterator i(names.begin(), names.end(), folder), end; i != end; ++i) rooms.push_back({(*i)[1], allowed});
  }
  return rooms;
}

const Room* room_of(const std::string& path, const std::vector<Room>& rooms) {
  for (const auto& room : rooms)
    if (path.starts_with(room.folder)) return &room;
  return nullptr;
}

TEST(Architecture, EveryFolderHasARow) {
  const auto rooms = rooms_of_the_page();
  ASSERT_GT(rooms.size(), 10u);
  for (const char* top : {"daemon", "fixtures"})
    for (const auto& entry : fs::directory_iterator(kSource / top))
      if (entry.is_directory()) {
        const std::string folder = std::string(top) + "/" + entry.path().filename().string() + "/";
        EXPECT_NE(room_of(folder, rooms), nullptr) << folder << " has no row in daemon/ARCHITECTURE.md";
      }
}

TEST(Architecture, NoFileIncludesFromARoomItsRowDoesNotAllow) {
  const auto rooms = rooms_of_the_page();
  const std::regex include(R"re(^\s*#include "((?:daemon|protocol|fixtures)/[^"]+)")re");
  int seen = 0;
  for (const char* top : {"daemon", "protocol", "fixtures"})
    for (const auto& entry : fs::recursive_directory_iterator(kSource / top)) {
      const auto extension = entry.path().extension();
      if (extension != ".cpp" && extension != ".hpp") continue;
      const std::string path = fs::relative(entry.path(), kSource).string();
      const Room* from = room_of(path, rooms);
      ASSERT_NE(from, nullptr) << path;
      std::istringstream text(slurp(entry.path()));
      for (std::string line; std::getline(text, line);) {
        std::smatch match;
        if (!std::regex_search(line, match, include)) continue;
        const Room* to = room_of(match[1], rooms);
        ASSERT_NE(to, nullptr) << path << " includes " << match[1];
        ++seen;
        EXPECT_TRUE(to == from || from->uses.contains(to->folder))
            << path << " includes " << match[1] << "; the page's row of " << from->folder << " does not allow that";
      }
    }
  EXPECT_GT(seen, 100) << "the test looked at next to nothing";
}

TEST(Architecture, FilesStayUnder600Lines) {
  for (const char* top : {"daemon", "protocol", "fixtures", "tests"})
    for (auto entry = fs::recursive_directory_iterator(kSource / top); entry != fs::recursive_directory_iterator(); ++entry) {
      if (entry->path().filename() == "node_modules") {
        entry.disable_recursion_pending();
        continue;
      }
      const auto extension = entry->path().extension();
      if (extension != ".cpp" && extension != ".hpp" && extension != ".mjs") continue;
      const std::string text = slurp(entry->path());
      EXPECT_LE(std::count(text.begin(), text.end(), '\n'), 600) << entry->path();
    }
}

}  // namespace
