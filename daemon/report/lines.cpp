#include "daemon/report/lines.hpp"

namespace midstick::report {
namespace {

std::string named(const std::vector<script::ControllerPin>& pins, std::uint8_t line, std::string otherwise) {
  for (const auto& pin : pins)
    if (pin.line_no == line && !pin.name.empty()) return pin.name;
  return otherwise;
}

}  // namespace

std::string stimulus_line(std::uint8_t line) { return "S" + std::to_string(line + 1); }

std::string response_line(std::uint8_t line) { return line < 2 ? "R" + std::to_string(line + 1) : "P" + std::to_string(line - 1); }

std::string stimulus_name(const script::ControllerDescription& controller, std::uint8_t line) {
  return named(controller.inputs, line, stimulus_line(line));
}

std::string response_name(const script::ControllerDescription& controller, std::uint8_t line) {
  return named(controller.outputs, line, response_line(line));
}

}  // namespace midstick::report
