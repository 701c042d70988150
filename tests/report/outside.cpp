#include <gtest/gtest.h>
#include <stdlib.h>
#include <sys/wait.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "tests/report/world.hpp"

namespace midstick::report::test {

std::string read_text(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  EXPECT_TRUE(in.good()) << path;
  return {std::istreambuf_iterator<char>(in), {}};
}

Ran run_command(const std::string& command) {
  Ran ran;
  FILE* pipe = popen(("{ " + command + " ; } 2>&1").c_str(), "r");
  if (pipe == nullptr) return ran;
  std::array<char, 65536> buffer;
  for (std::size_t n; (n = fread(buffer.data(), 1, buffer.size(), pipe)) > 0;) ran.output.append(buffer.data(), n);
  const int status = pclose(pipe);
  ran.exit_code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  return ran;
}

TempFolder::TempFolder() : path_((std::filesystem::temp_directory_path() / "midstick-report-XXXXXX").string()) {
  EXPECT_NE(mkdtemp(path_.data()), nullptr);
}

TempFolder::~TempFolder() { std::filesystem::remove_all(path_); }

std::string TempFolder::write(const std::string& name, const std::string& text) const {
  std::ofstream(path(name), std::ios::binary) << text;
  return path(name);
}

}  // namespace midstick::report::test
