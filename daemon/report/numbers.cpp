#include "daemon/report/numbers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "daemon/judge/decision.hpp"
#include "daemon/judge/text.hpp"

namespace midstick::report {
namespace {

/// Decimals at which two significant digits of the uncertainty end, 0..the file's.
int shown_decimals(const judge::Measure& m) {
  const int most = std::min(file_decimals(m.unit), 4);
  if (!std::isfinite(m.uncertainty) || m.uncertainty <= 0) return std::min(most, 3);
  return std::clamp(1 - static_cast<int>(std::floor(std::log10(m.uncertainty))), 0, most);
}

std::string with_unit(std::string text, std::string_view unit) {
  const auto symbol = unit_symbol(unit);
  return symbol.empty() ? text : text + " " + symbol;
}

}  // namespace

int file_decimals(std::string_view unit) {
  if (unit == "us") return 3;
  if (unit == "ms") return 6;
  if (unit == "s") return 9;
  return 4;
}

std::optional<double> rounded(double value, std::string_view unit) {
  if (!std::isfinite(value)) return std::nullopt;
  const double scale = std::pow(10.0, file_decimals(unit));
  const double r = std::round(value * scale) / scale;
  if (!std::isfinite(r)) return value;  // too large to scale: it has no such decimals anyway
  return r == 0 ? 0.0 : r;              // never -0
}

std::string unit_symbol(std::string_view unit) {
  if (unit == "us") return "µs";
  if (unit == "count") return "";
  return std::string(unit);
}

std::string plain(double value, int decimals) {
  if (!std::isfinite(value)) return "none";
  auto text = fmt::format("{:.{}f}", value, decimals);
  if (text.find('.') != std::string::npos) {
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') text.pop_back();
  }
  return text == "-0" ? "0" : text;
}

std::string fixed(double value, int decimals) {
  if (!std::isfinite(value)) return "none";
  auto text = fmt::format("{:.{}f}", value, decimals);
  if (text[0] == '-' && text.find_first_not_of("-0.") == std::string::npos) text.erase(0, 1);
  return text;
}

std::string measured_text(const judge::Measure& m) {
  if (!std::isfinite(m.measured)) return "none";
  if (m.unit == "count" && m.measured == 0) return "none seen";
  if (!m.never.empty()) return with_unit("never within " + judge::at_least(m.measured), m.unit);
  const int decimals = shown_decimals(m);
  if (!std::isfinite(m.uncertainty) || m.uncertainty <= 0) return with_unit(plain(m.measured, decimals), m.unit);
  return with_unit(fixed(m.measured, decimals) + " ± " + fixed(m.uncertainty, decimals), m.unit);
}

std::string limit_text(const judge::Measure& m) {
  const int decimals = file_decimals(m.unit);
  if (m.unit == "count" && !m.limit_low && m.limit_high == 0.0) return "none allowed";
  const bool low = m.limit_low && std::isfinite(*m.limit_low);
  const bool high = m.limit_high && std::isfinite(*m.limit_high);
  if (low && high && *m.limit_low == *m.limit_high) return with_unit("exactly " + plain(*m.limit_low, decimals), m.unit);
  if (low && high) return with_unit(plain(*m.limit_low, decimals) + " to " + plain(*m.limit_high, decimals), m.unit);
  if (high) return with_unit("at most " + plain(*m.limit_high, decimals), m.unit);
  if (low) return with_unit("at least " + plain(*m.limit_low, decimals), m.unit);
  return "no limit";
}

std::string conformance_text(const judge::Measure& m) {
  const auto p = judge::conformance_probability(m);
  if (!p) return "";
  if (*p > 0.999) return "above 99.9 %";
  if (*p < 0.001) return "below 0.1 %";
  return plain(100 * *p, *p > 0.99 || *p < 0.01 ? 1 : 0) + " %";
}

std::string decision_text(double guard_band) {
  const std::string with = "A measured value comes with its uncertainty U (95 %). ";
  if (guard_band == 0)
    return with +
           "Decision rule of this plan: simple acceptance. A check passes or fails by the measured value alone, so near a limit it is "
           "wrong "
           "up to half the time. With too little data it is inconclusive.";
  const std::string w = guard_band == 1 ? "U" : plain(guard_band, 3) + " U";
  return with + "Decision rule: guard band of " + w + ". A check passes only when the value is inside its limit by more than " + w +
         ", and fails only when it is outside by more than that. Between the two, or with too little data, it is inconclusive.";
}

std::string duration_text(double ms) {
  if (!std::isfinite(ms)) return "none";
  if (std::abs(ms) < 10) return plain(ms, 2) + " ms";
  if (std::abs(ms) < 1000) return plain(ms, 0) + " ms";
  if (std::abs(ms) < 60'000) return plain(ms / 1000, 1) + " s";
  const auto seconds = std::llround(ms / 1000);
  return fmt::format("{} min {} s", seconds / 60, std::abs(seconds % 60));
}

}  // namespace midstick::report
