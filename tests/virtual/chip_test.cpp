// One chip, run in stretches of any length: cutting it changes nothing.
#include "fixtures/virtual/chip.hpp"

#include "tests/virtual/support.hpp"

namespace midstick::virtual_bench {
namespace {

struct Uart final : ChipListener {
  std::string said;
  void on_pin(int, bool) override {}
  void on_uart(std::uint8_t byte) override { said += static_cast<char>(byte); }
  void on_event(const ChipEvent&) override {}
  void on_reset(ResetCause) override {}
};

/// What the program `asleep` says, run so many cycles at a time.
std::string said_in_stretches_of(std::uint64_t cycles) {
  ChipSetup setup;
  setup.chip = "atmega2560";
  setup.image = load_image(image("asleep")).take();
  Uart uart;
  Chip chip(power_on(setup).take(), setup, uart, '0');
  while (uart.said.empty() && chip.cycle() < 3'000'000) chip.run(chip.cycle() + cycles);
  return uart.said;
}

TEST(Chip, SleepsOverNoInterruptHoweverItsRunIsCut) {
  for (const std::uint64_t cycles : {1, 2, 3, 5, 100'000}) EXPECT_EQ(said_in_stretches_of(cycles), "A") << cycles;
}

}  // namespace
}  // namespace midstick::virtual_bench
