// Run folders made by hand: the part of run.json and report.json that a trend reads, laid out as the engine writes them.
#pragma once

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>

namespace midstick::trend::test {

struct Made {
  std::string started{"2026-11-01T02:30:00Z"}, build{"rev A"}, controller{"drive"}, plan{"nightly"};
  double value{0}, uncertainty{0.1};
};

inline void write(const std::filesystem::path& file, const std::string& text) {
  std::filesystem::create_directories(file.parent_path());
  std::ofstream(file) << text;
}

inline nlohmann::json report(const Made& m) {
  using nlohmann::json;
  const json measure{{"name", "left mean"},          {"verdict", "pass"}, {"measured", m.value}, {"limit", {{"low", -5}, {"high", 5}}},
                     {"uncertainty", m.uncertainty}, {"unit", "us"},      {"samples", 100},      {"note", ""}};
  json other = measure;
  other["name"] = "right mean";
  other["measured"] = nullptr;
  return {{"version", 1},
          {"run",
           {{"when", {{"started", m.started}, {"finished", m.started}}},
            {"plan", m.plan},
            {"build", m.build},
            {"complete", true},
            {"bench", "virtual"},
            {"identity", {{"controller", m.controller}, {"controller_image", "abcd"}}}}},
          {"checks", {{{"name", "neutral"}, {"measures", {measure, other}}}}}};
}

inline void make_run(const std::filesystem::path& folder, const Made& m) {
  write(folder / "run.json", R"({"format": "midstick run 1", "state": "complete"})");
  write(folder / "report.json", report(m).dump());
}

/// The n-th day from the first of November 2026, n < 60.
inline std::string day(int n) {
  const int month = n < 30 ? 11 : 12, of_month = n < 30 ? n + 1 : n - 29;
  return "2026-" + std::to_string(month) + (of_month < 10 ? "-0" : "-") + std::to_string(of_month) + "T02:30:00Z";
}

}  // namespace midstick::trend::test
