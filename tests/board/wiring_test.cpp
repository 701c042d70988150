// The wiring page's pin table says what the firmware's pin header says, row by row, and the drawing names every pin.
#include <gtest/gtest.h>

#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "fixtures/board/pins.hpp"

namespace midstick::board_test {
namespace {

std::string text_of(const std::string& name) {
  std::ifstream file(std::string(BOARD_FOLDER) + "/" + name);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

/// Rows of the table under "## Pin table", without its two heading rows.
std::vector<std::string> table_rows(const std::string& page) {
  std::vector<std::string> rows;
  std::istringstream lines(page.substr(page.find("## Pin table")));
  std::string line;
  while (std::getline(lines, line) && !(line.rfind("## ", 0) == 0 && !rows.empty()))
    if (line.rfind("|", 0) == 0) rows.push_back(line);
  if (rows.size() > 2) rows.erase(rows.begin(), rows.begin() + 2);
  return rows;
}

struct Pin {
  std::string name, chip, board, direction, use;
};

std::vector<Pin> header_pins() {
  std::vector<Pin> pins;
#define MIDSTICK_TEST_PIN(name, port, bit, board, direction, use) pins.push_back({#name, "P" #port #bit, board, #direction, use});
  MIDSTICK_PINS(MIDSTICK_TEST_PIN)
#undef MIDSTICK_TEST_PIN
  return pins;
}

TEST(Wiring, PinTableIsTheFirmwaresPinHeader) {
  const auto rows = table_rows(text_of("WIRING.md"));
  const auto pins = header_pins();
  ASSERT_EQ(rows.size(), pins.size());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const Pin& pin = pins[i];
    EXPECT_EQ(rows[i], "| " + pin.name + " | " + pin.chip + " | " + pin.board + " | " + pin.direction + " | " + pin.use + " |");
  }
}

TEST(Wiring, DrawingNamesEveryConnectedPin) {
  const std::string drawing = text_of("wiring.svg");
  for (const Pin& pin : header_pins()) {
    if (pin.name == "SELF") continue;  // left open
    EXPECT_NE(drawing.find(">" + pin.name + " " + pin.board + "<"), std::string::npos) << pin.name << " " << pin.board;
  }
}

// The masks that the firmware uses are those of the pins in the table.
TEST(Wiring, MasksAreThoseOfTheTable) {
  unsigned stimulus_b = 0, stimulus_e = 0, pin_change = 0;
  for (const Pin& pin : header_pins()) {
    const unsigned bit = 1u << (pin.chip[2] - '0');
    if (pin.name[0] == 'S' && pin.name.size() == 2 && pin.chip[1] == 'B') stimulus_b |= bit;
    if (pin.name[0] == 'S' && pin.name.size() == 2 && pin.chip[1] == 'E') stimulus_e |= bit;
    if (pin.name[0] == 'P' && pin.chip[1] == 'K') pin_change |= bit;
  }
  EXPECT_EQ(stimulus_b, unsigned{STIMULUS_MASK_B});
  EXPECT_EQ(stimulus_e, unsigned{STIMULUS_MASK_E});
  EXPECT_EQ(pin_change, unsigned{PIN_CHANGE_MASK});
}

}  // namespace
}  // namespace midstick::board_test
