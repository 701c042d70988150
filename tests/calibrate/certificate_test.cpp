// The certificate adds up, says what it must, and is a page that needs nothing beside it.
#include "daemon/calibrate/certificate.hpp"

#include <cmath>
#include <cstdlib>
#include <fstream>
#include <nlohmann/json.hpp>
#include <regex>

#include "tests/calibrate/calibrated.hpp"
#include "tests/e2e/scratch_folder.hpp"

namespace midstick::calibrate {
namespace {

using nlohmann::json;

Certificate certificate() {
  auto found = study(virtual_rounds().rounds, virtual_rounds().hello);
  found->calibration.board = "bench <2>";
  found->calibration.date = "2026-03-01T10:00:00Z";
  found->calibration.supply_mv = 4980;
  return {found.take(), virtual_rounds().rounds.loops[0].identity, "midstick test", "workshop"};
}

TEST(Certificate, BudgetsAddUp) {
  const auto j = json::parse(certificate_json(certificate()));
  ASSERT_EQ(j["budgets"].size(), 5u);
  for (const auto& b : j["budgets"]) {
    double square = 0, dof = 0;
    for (const auto& row : b["rows"]) {
      const double u = row["value"].get<double>() / row["divisor"].get<double>();
      EXPECT_NEAR(u, row["standard_uncertainty"].get<double>(), 1e-9);
      const double part = std::abs(row["sensitivity"].get<double>()) * u;
      EXPECT_NEAR(part, row["contribution"].get<double>(), 1e-3);
      square += part * part;
      if (row["degrees_of_freedom"].is_number()) dof += std::pow(part, 4) / row["degrees_of_freedom"].get<double>();
    }
    const double combined = b["combined"].get<double>();
    EXPECT_NEAR(std::sqrt(square), combined, 2e-3) << b["quantity"];
    if (dof > 0) {
      EXPECT_NEAR(std::pow(combined, 4) / dof, b["degrees_of_freedom"].get<double>(), 1) << b["quantity"];
    } else {
      EXPECT_EQ(b["degrees_of_freedom"], "infinite");
    }
    EXPECT_NEAR(b["coverage_factor"].get<double>() * combined, b["expanded"].get<double>(), 0.1);
  }
}

TEST(Certificate, WhatTheJudgeTakesIsNearTheBudgetAndNeverLess) {
  for (const auto& b : certificate().study.budgets) {
    EXPECT_GT(b.judged_ns, 0.5 * b.budget.expanded) << b.quantity;
    EXPECT_LT(b.judged_ns, 1.1 * b.budget.expanded) << b.quantity;
  }
}

TEST(Certificate, SaysBoardConditionsAndValidity) {
  const auto j = json::parse(certificate_json(certificate()));
  EXPECT_EQ(j["identity"]["board"], "bench <2>");
  EXPECT_EQ(j["conditions"]["supply_mv"], 4980);
  EXPECT_EQ(j["conditions"]["valid_until"], "2027-03-01");
  EXPECT_NEAR(j["conditions"]["clock_ppm"].get<double>(), 700, 20);
  const auto page = certificate_html(certificate());
  for (const char* said :
       {"bench &lt;2&gt;", "4.98 V", "2027-03-01", "Degrees of freedom", "rectangular", "Coverage factor k", "no laboratory"})
    EXPECT_NE(page.find(said), std::string::npos) << said;
}

TEST(Certificate, ReadsAsPeopleWriteUnitsAndSigns) {
  const auto page = certificate_html(certificate());
  EXPECT_TRUE(std::regex_search(page, std::regex("fast by [0-9.]+ ppm against"))) << "board clock";
  EXPECT_NE(page.find("one width of 1500 µs"), std::string::npos);
  EXPECT_EQ(page.find(" us "), std::string::npos);
  EXPECT_EQ(page.find("+-"), std::string::npos);
}

TEST(Certificate, PageNeedsNothingBesideItAndIsWellFormed) {
  auto page = certificate_html(certificate());
  for (const char* forbidden : {"<script", "http:", "https:", "@import", "src=", "<link", "<2>"})
    EXPECT_EQ(page.find(forbidden), std::string::npos) << forbidden;
  EXPECT_NE(page.find("width=device-width"), std::string::npos);
  page = std::regex_replace(page, std::regex("<meta ([^>]*)>"), "<meta $1/>");
  const e2e::ScratchFolder folder;
  const auto path = folder / "page.xml";
  std::ofstream(path) << page;
  EXPECT_EQ(std::system(("xmllint --noout --nonet " + path.string()).c_str()), 0);
}

}  // namespace
}  // namespace midstick::calibrate
