// What the reference tests share: how many digits of a published number were met, and the data files that were too long to print in a test.
#pragma once

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <limits>
#include <sstream>
#include <string>
#include <vector>

namespace midstick::reference {

/// Correct significant digits of `computed`: -log10 of the relative error (absolute error where the published value is 0), at most 15.
inline double digits(double computed, double published) {
  if (std::isnan(computed)) return 0;
  const double error = std::abs(computed - published) / (published != 0 ? std::abs(published) : 1);
  return error > 0 ? std::clamp(-std::log10(error), 0.0, 15.0) : 15;
}

/// Rows of numbers of a file in tests/reference; lines that begin with # are remarks. Fails the test where the file is missing.
inline std::vector<std::vector<double>> table(const std::string& name) {
  std::ifstream file(std::string(MIDSTICK_REFERENCE) + "/" + name);
  EXPECT_TRUE(file) << name;
  std::vector<std::vector<double>> rows;
  for (std::string line; std::getline(file, line);) {
    if (line.empty() || line.front() == '#') continue;
    std::istringstream cells(line);
    rows.emplace_back();
    for (std::string cell; std::getline(cells, cell, ',');) rows.back().push_back(std::stod(cell));
  }
  return rows;
}

inline std::vector<double> column(const std::vector<std::vector<double>>& rows, std::size_t at) {
  std::vector<double> values;
  for (const auto& row : rows) values.push_back(row.at(at));
  return values;
}

}  // namespace midstick::reference
