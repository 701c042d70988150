// Any bytes as a controller description: refused with a reason, or read into one whose pins and lines are real and distinct.
#include <cstdint>
#include <set>

#include "daemon/script/readers.hpp"
#include "tests/fuzz/fuzz_readers.hpp"

using namespace midstick;

namespace {

void must_be_sound(const std::vector<script::ControllerPin>& pins, std::size_t most) {
  std::set<int> lines;
  std::set<std::string> names;
  for (const auto& pin : pins) {
    fuzz::must(pin.line_no < most, "a line is one that the bench has");
    fuzz::must(pin.port == 0 || (pin.port >= 'A' && pin.port <= 'L' && pin.bit < 8), "a pin is one that a chip may have");
    fuzz::must(lines.insert(pin.line_no).second, "a line is used once");
    fuzz::must(names.insert(pin.name).second, "a name is used once");
  }
  fuzz::must(!pins.empty() && pins.size() <= most, "the number of lines fits the bench");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto checked = script::read_source(fuzz::text(data, size), "f", script::FileKind::controller);
  if (!checked) return fuzz::must_explain(checked.error(), "f"), 0;
  const auto controller = script::read_controller(checked->source);
  if (!controller) return fuzz::must_explain(controller.error(), "f"), 0;
  must_be_sound(controller->inputs, 6);
  must_be_sound(controller->outputs, 8);
  return 0;
}
