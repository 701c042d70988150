#include "daemon/statistics/budget.hpp"

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <utility>

namespace midstick::statistics {
namespace {

double coverage_factor(const std::optional<double>& dof, double confidence) {
  const double tail = (1 - confidence) / 2;
  if (!dof || std::isinf(*dof)) return boost::math::quantile(boost::math::complement(boost::math::normal(), tail));
  return boost::math::quantile(boost::math::complement(boost::math::students_t(std::max(1.0, std::floor(*dof))), tail));
}

/// Welch-Satterthwaite: u_c^4 / sum(u_i^4 / nu_i).
double effective_dof(const std::vector<BudgetRow>& rows, double combined) {
  double sum = 0;
  for (const BudgetRow& row : rows)
    if (!std::isinf(row.dof)) sum += std::pow(row.contribution(), 4) / row.dof;
  return sum > 0 ? std::pow(combined, 4) / sum : std::numeric_limits<double>::infinity();
}

}  // namespace

double divisor(Distribution distribution) {
  switch (distribution) {
    case Distribution::normal:
      return 1;
    case Distribution::rectangular:
      return std::sqrt(3.0);
    case Distribution::triangular:
      return std::sqrt(6.0);
    case Distribution::arcsine:
      return std::sqrt(2.0);
  }
  return 1;
}

const char* name(Evaluation evaluation) { return evaluation == Evaluation::type_a ? "A" : "B"; }

const char* name(Distribution distribution) {
  switch (distribution) {
    case Distribution::normal:
      return "normal";
    case Distribution::rectangular:
      return "rectangular";
    case Distribution::triangular:
      return "triangular";
    case Distribution::arcsine:
      return "arcsine";
  }
  return "";
}

Budget combine(std::vector<BudgetRow> rows, double confidence, const std::vector<Correlation>& correlations) {
  double square = 0;
  for (const BudgetRow& row : rows) square += std::pow(row.contribution(), 2);
  bool correlated = false;
  for (const Correlation& c : correlations) {
    if (c.a >= rows.size() || c.b >= rows.size() || c.r == 0) continue;
    correlated = true;
    square += 2 * rows[c.a].sensitivity * rows[c.a].standard() * rows[c.b].sensitivity * rows[c.b].standard() * c.r;
  }
  Budget budget;
  budget.combined = std::sqrt(std::max(0.0, square));
  if (!correlated) budget.dof = effective_dof(rows, budget.combined);
  budget.k = coverage_factor(budget.dof, confidence);
  budget.expanded = budget.k * budget.combined;
  budget.confidence = confidence;
  budget.rows = std::move(rows);
  return budget;
}

}  // namespace midstick::statistics
