// Any bytes as a stick script: refused with a reason, or read into one that compiles; short ones are compiled and looked at.
#include <cmath>
#include <cstdint>
#include <map>

#include "daemon/script/readers.hpp"
#include "daemon/script/timeline.hpp"
#include "tests/fuzz/fuzz_readers.hpp"

using namespace midstick;

namespace {

script::StickSetting setting() {
  script::StickSetting out;
  out.spec.throttle.name = "throttle";
  out.spec.steering.name = "steering";
  out.controller.name = "drive";
  out.controller.inputs = {{"throttle", "S1", 0, 0, 0}, {"steering", "S2", 1, 0, 0}, {"lamp", "S6", 5, 0, 0}};
  return out;
}

void must_be_well_formed(const script::Timeline& timeline) {
  std::map<int, script::PlannedEdge> last;
  ScriptTime now{0};
  for (const auto& edge : timeline.edges) {
    fuzz::must(edge.at >= now && edge.at.count <= timeline.length.count, "edges are in order and inside");
    now = edge.at;
    const auto before = last.find(edge.line);
    fuzz::must(edge.level == (before == last.end() || !before->second.level), "levels alternate");
    fuzz::must(before == last.end() || (edge.at - before->second.at).count >= 1000, "no level is shorter than 1 us");
    last[edge.line] = edge;
  }
  for (const auto& [line, edge] : last) fuzz::must(!edge.level, "every line ends low");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto checked = script::read_source(fuzz::text(data, size), "f", script::FileKind::sticks);
  if (!checked) return fuzz::must_explain(checked.error(), "f"), 0;
  const auto alone = script::read_sticks(checked->source, nullptr);
  if (!alone) fuzz::must_explain(alone.error(), "f");
  static const script::StickSetting with = setting();
  const auto read = script::read_sticks(checked->source, &with);
  if (!read) return fuzz::must_explain(read.error(), "f"), 0;

  double length_ms = 0;
  for (const auto& move : read->moves) length_ms += move.for_ms;
  if (length_ms > 20'000) return 0;  // long ones would only make the fuzzer slow
  const auto timeline = script::compile(*read, with.controller, 1);
  fuzz::must(timeline.ok(), "a script that was read can be played");
  must_be_well_formed(*timeline);
  return 0;
}
