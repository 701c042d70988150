// Any bytes as a mixer spec: refused with a reason, or read into one with its numbers in order.
#include <cstdint>

#include "daemon/script/readers.hpp"
#include "tests/fuzz/fuzz_readers.hpp"

using namespace midstick;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  auto checked = script::read_source(fuzz::text(data, size), "f", script::FileKind::mixer);
  if (!checked) return fuzz::must_explain(checked.error(), "f"), 0;
  const auto spec = script::read_mixer(checked->source);
  if (!spec) return fuzz::must_explain(spec.error(), "f"), 0;
  for (const auto* in : {&spec->throttle, &spec->steering}) {
    fuzz::must(300 <= in->low_us && in->low_us < in->centre_us && in->centre_us < in->high_us && in->high_us <= 5000,
               "stick ends in order");
    fuzz::must(in->centre_us - in->dead_band_half_us > in->low_us && in->centre_us + in->dead_band_half_us < in->high_us,
               "dead band inside");
  }
  for (const auto* out : {&spec->left, &spec->right}) {
    fuzz::must(out->low_us < out->neutral_us && out->neutral_us < out->high_us, "output ends in order");
    fuzz::must(out->clamp_low_us < out->neutral_us && out->neutral_us < out->clamp_high_us, "clamps either side of neutral");
  }
  fuzz::must(spec->frame.period_low_ms < spec->frame.period_high_ms, "frame periods in order");
  fuzz::must(script::check_value(checked->source.value, "f").ok(), "a file with its defaults fits the schema still");
  return 0;
}
