// Numbers as the judge's sentences show them. Fixed notation, point as decimal mark, no locale.
#pragma once

#include <cstdint>
#include <string>

namespace midstick::judge {

/// `digits` after the point; no "-0".
std::string num(double value, int digits = 1);
/// A lower bound, >= 0: rounded down, so that it is one still.
std::string at_least(double value, int digits = 1);
std::string whole(std::int64_t value);
/// A rate 0..1 as percent with two significant digits: "0.25 %".
std::string percent_text(double rate);

}  // namespace midstick::judge
