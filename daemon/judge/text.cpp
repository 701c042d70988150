#include "daemon/judge/text.hpp"

#include <cmath>
#include <cstdio>

namespace midstick::judge {

std::string num(double value, int digits) {
  char buffer[64];
  std::snprintf(buffer, sizeof buffer, "%.*f", digits, value);
  if (buffer[0] == '-') {
    bool zero = true;
    for (const char* p = buffer + 1; *p; ++p) zero = zero && (*p == '0' || *p == '.');
    if (zero) return buffer + 1;
  }
  return buffer;
}

std::string at_least(double value, int digits) {
  const double scale = std::pow(10, digits);
  return num(std::floor(value * scale) / scale, digits);
}

std::string whole(std::int64_t value) { return std::to_string(value); }

std::string percent_text(double rate) {
  const double percent = rate * 100;
  if (!(percent > 0)) return "0 %";
  const int digits = percent >= 10 ? 0 : static_cast<int>(1 - std::floor(std::log10(percent)));
  return num(percent, digits < 0 ? 0 : digits > 9 ? 9 : digits) + " %";
}

}  // namespace midstick::judge
