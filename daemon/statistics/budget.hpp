// An uncertainty budget in the form of JCGM 100:2008 (GUM): inputs with their standard uncertainties, and what they make of the result.
//
// u_c^2 is the sum of squares of the contributions c u (5.1.2), with the terms of correlated inputs (5.2.2); effective degrees of freedom
// after Welch and Satterthwaite (G.4.1); k is Student's t at those, rounded down to a whole number (G.6.4); U = k u_c. It holds for a
// result that is near enough linear in its inputs and near enough normal; an error whose own distribution is known and far from normal
// needs its distribution propagated instead (JCGM 101). Any unit: contributions are in the result's. Pure values; cannot fail.
#pragma once

#include <cstddef>
#include <limits>
#include <optional>
#include <string>
#include <vector>

namespace midstick::statistics {

enum class Evaluation {
  type_a,  ///< by statistics of readings (4.2)
  type_b   ///< by anything else: bounds, data sheets, certificates (4.3)
};

enum class Distribution { normal, rectangular, triangular, arcsine };

/// What a half width is divided by to give a standard uncertainty: sqrt(3), sqrt(6), sqrt(2) (4.3.7, 4.3.9 and H.1); normal: 1, the
/// value being a standard deviation already.
double divisor(Distribution distribution);

/// "A", "rectangular": as printed in a table.
const char* name(Evaluation evaluation);
const char* name(Distribution distribution);

struct BudgetRow {
  std::string source;
  Evaluation evaluation{Evaluation::type_b};
  Distribution distribution{Distribution::normal};
  double value{0};        ///< >= 0: standard deviation (normal) or half width (the others), in the input's own unit
  double sensitivity{1};  ///< c, result per input
  double dof{std::numeric_limits<double>::infinity()};  ///< > 0
  std::string unit{};                                   ///< of `value`; only for people

  double standard() const { return value / divisor(distribution); }
  double contribution() const { return (sensitivity < 0 ? -sensitivity : sensitivity) * standard(); }
};

/// Correlation coefficient of two rows, -1..1. Rows that are not named are uncorrelated.
struct Correlation {
  std::size_t a{0}, b{0};
  double r{0};
};

struct Budget {
  std::vector<BudgetRow> rows;
  double combined{0};         ///< u_c
  std::optional<double> dof;  ///< effective; infinite when every row's is. Nothing when rows are correlated: the formula does not hold
  double k{0};                ///< without `dof`, that of the normal distribution
  double expanded{0};         ///< U = k u_c
  double confidence{0.95};
};

/// Put the rows together. `confidence` in (0, 1). Correlations with an index past the rows are an error of the caller (ignored).
Budget combine(std::vector<BudgetRow> rows, double confidence = 0.95, const std::vector<Correlation>& correlations = {});

}  // namespace midstick::statistics
