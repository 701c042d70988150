// Names of bench lines as a person knows them: "throttle (S1)", "left (R1)". Pure; unknown lines get their bench name alone.
#pragma once

#include <cstdint>
#include <string>

#include "daemon/script/controller.hpp"

namespace midstick::report {

/// Bench name of a stimulus line 0..5: "S1".."S6".
std::string stimulus_line(std::uint8_t line);
/// Bench name of a response line: 0, 1 are "R1", "R2" (input capture), 2..7 are "P1".."P6" (pin change).
std::string response_line(std::uint8_t line);

/// The controller's name for the line, or the bench's where the controller has none.
std::string stimulus_name(const script::ControllerDescription& controller, std::uint8_t line);
std::string response_name(const script::ControllerDescription& controller, std::uint8_t line);

}  // namespace midstick::report
