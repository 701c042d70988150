#include "daemon/judge/decision.hpp"

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <limits>

#include "daemon/judge/text.hpp"
#include "daemon/statistics/rates.hpp"

namespace midstick::judge {
namespace {

/// How far past the nearest limit, in parts of the limit (of the limits' span where there are two). Negative: inside.
double excess(const Measure& m) {
  if (m.unit == "count" && m.measured == 0) return -2;  // nothing of a kind seen says less than any distance from a limit
  double scale = 1;
  if (m.limit_low && m.limit_high)
    scale = std::max(1e-9, *m.limit_high - *m.limit_low);
  else if (m.limit_low || m.limit_high)
    scale = std::max(1.0, std::abs(m.limit_low ? *m.limit_low : *m.limit_high));
  double past = -std::numeric_limits<double>::infinity();
  if (m.limit_low) past = std::max(past, *m.limit_low - m.measured);
  if (m.limit_high) past = std::max(past, m.measured - *m.limit_high);
  return past / scale;
}

void need(Measure& m, std::int64_t needed) {
  if (m.samples >= std::max<std::int64_t>(needed, 1)) return;
  withhold(m);
  m.note = whole(m.samples) + " samples, " + whole(std::max<std::int64_t>(needed, 1)) + " needed" + (m.note.empty() ? "" : "; " + m.note);
}

}  // namespace

Verdict decide(double measured, std::optional<double> low, std::optional<double> high, double uncertainty, double ratio) {
  if (!std::isfinite(measured) || !std::isfinite(uncertainty)) return Verdict::inconclusive;
  const double least = measured - ratio * uncertainty, most = measured + ratio * uncertainty;
  if ((low && most < *low) || (high && least > *high)) return Verdict::fail;
  if ((low && least < *low) || (high && most > *high)) return Verdict::inconclusive;
  return Verdict::pass;
}

std::optional<double> conformance_probability(const Measure& m) {
  if ((!m.limit_low && !m.limit_high) || m.unit == "count" || !std::isfinite(m.measured) || !std::isfinite(m.uncertainty)) return {};
  if (!m.never.empty()) return m.verdict == Verdict::fail ? std::optional(0.0) : std::nullopt;
  if (m.uncertainty == 0) return decide(m.measured, m.limit_low, m.limit_high, 0) == Verdict::pass ? 1.0 : 0.0;
  const boost::math::normal truth(m.measured, m.uncertainty / 2);
  const double up_to_high = m.limit_high ? boost::math::cdf(truth, *m.limit_high) : 1;
  return up_to_high - (m.limit_low ? boost::math::cdf(truth, *m.limit_low) : 0);
}

void withhold(Measure& m) {
  m.withheld = true;
  m.verdict = Verdict::inconclusive;
}

void withhold_pass(Measure& m) {
  m.withheld = true;
  if (m.verdict != Verdict::fail) m.verdict = Verdict::inconclusive;
}

void never_came(Measure& m, std::string what) {
  withhold_pass(m);
  m.never = std::move(what);
  m.uncertainty = 0;
}

Verdict overall(const std::vector<Measure>& measures) {
  if (measures.empty()) return Verdict::inconclusive;
  Verdict v = Verdict::pass;
  for (const Measure& m : measures) {
    if (m.verdict == Verdict::fail) return Verdict::fail;
    if (m.verdict == Verdict::inconclusive) v = Verdict::inconclusive;
  }
  return v;
}

Measure measure(std::string name, double measured, std::optional<double> low, std::optional<double> high, double uncertainty,
                std::string unit, std::int64_t samples, std::int64_t needed) {
  Measure m{std::move(name), measured, low, high, uncertainty, std::move(unit), samples, decide(measured, low, high, uncertainty), "",
            false,           ""};
  need(m, needed);
  return m;
}

std::string none_seen_text(std::int64_t n) {
  return "rate below " + percent_text(statistics::none_seen_bound(n)) + " (none in n, 95 %, one-sided)";
}

Measure none_allowed(std::string name, std::int64_t seen, std::int64_t n, const std::string& what, std::int64_t needed) {
  Measure m{std::move(name), static_cast<double>(seen), {}, 0.0, 0.0, "count", n, seen > 0 ? Verdict::fail : Verdict::pass, "", false, ""};
  if (seen == 0) {
    m.note = "0 of " + whole(n) + " " + what + ": " + none_seen_text(n);
  } else {
    const statistics::RateInterval r = statistics::rate_interval(std::min(seen, n), std::max<std::int64_t>(n, 1));
    m.note = whole(seen) + " of " + whole(n) + " " + what + ": rate " + percent_text(r.low) + " to " + percent_text(r.high) +
             " (Clopper-Pearson, 95 %)";
  }
  if (seen == 0) need(m, needed);  // what was seen was seen, however few were looked at
  return m;
}

int headline(const std::vector<Measure>& measures) {
  int best = -1;
  const auto rank = [](const Measure& m) { return m.verdict == Verdict::fail ? 2 : m.verdict == Verdict::inconclusive ? 1 : 0; };
  for (int i = 0; i < static_cast<int>(measures.size()); ++i) {
    const Measure& m = measures[static_cast<std::size_t>(i)];
    if (best < 0) {
      best = i;
      continue;
    }
    const Measure& b = measures[static_cast<std::size_t>(best)];
    const bool worse = rank(m) == rank(b) && rank(m) != 1 && excess(m) > excess(b);
    if (rank(m) > rank(b) || worse) best = i;
  }
  return best;
}

}  // namespace midstick::judge
