#include <cmath>
#include <nlohmann/json.hpp>

#include "daemon/calibrate/certificate.hpp"

namespace midstick::calibrate {
namespace {

using Json = nlohmann::ordered_json;

/// 0.001 ns: digits that say nothing are left out. What is not finite is null.
Json rounded(double value) { return std::isfinite(value) ? Json(std::round(value * 1e3) / 1e3) : Json(nullptr); }
Json dof(double value) { return std::isinf(value) ? Json("infinite") : rounded(value); }

Json row_json(const statistics::BudgetRow& row) {
  return {{"source", row.source},
          {"type", statistics::name(row.evaluation)},
          {"distribution", statistics::name(row.distribution)},
          {"value", row.value},
          {"unit", row.unit},
          {"divisor", statistics::divisor(row.distribution)},
          {"standard_uncertainty", row.standard()},
          {"sensitivity", row.sensitivity},
          {"contribution", rounded(row.contribution())},
          {"degrees_of_freedom", dof(row.dof)}};
}

Json budget_json(const BudgetOf& b) {
  Json rows = Json::array();
  for (const auto& row : b.budget.rows) rows.push_back(row_json(row));
  return {{"quantity", b.quantity},
          {"unit", "ns"},
          {"rows", std::move(rows)},
          {"combined", rounded(b.budget.combined)},
          {"degrees_of_freedom", b.budget.dof ? dof(*b.budget.dof) : Json(nullptr)},
          {"coverage_factor", rounded(b.budget.k)},
          {"confidence", b.budget.confidence},
          {"expanded", rounded(b.budget.expanded)},
          {"judged", rounded(b.judged_ns)}};
}

}  // namespace

std::string certificate_json(const Certificate& certificate) {
  const auto& c = certificate.study.calibration;
  Json out{{"format", "midstick certificate 1"}};
  out["identity"] = {{"board", c.board},
                     {"described_as", certificate.identity.board},
                     {"firmware", c.firmware},
                     {"schema_hash", c.schema_hash},
                     {"bench_address", certificate.identity.bench_address}};
  out["conditions"] = {{"date", c.date},
                       {"valid_until", capture::valid_until(c)},
                       {"supply_mv", c.supply_mv > 0 ? Json(c.supply_mv) : Json(nullptr)},
                       {"clock_ppm", rounded(c.clock_ppm)},
                       {"clock_uncertainty_ppm", rounded(c.clock_uncertainty_ppm)},
                       {"host", certificate.host},
                       {"program", certificate.program}};
  out["results"] = Json::array();
  for (const auto& r : certificate.study.results)
    out["results"].push_back({{"quantity", r.quantity},
                              {"value", rounded(r.value)},
                              {"uncertainty", rounded(r.uncertainty)},
                              {"unit", "ns"},
                              {"samples", r.samples}});
  out["budgets"] = Json::array();
  for (const auto& b : certificate.study.budgets) out["budgets"].push_back(budget_json(b));
  out["notes"] = certificate.study.notes;
  return out.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace midstick::calibrate
