#include "daemon/sweep/play.hpp"

#include <algorithm>
#include <utility>

#include "daemon/engine/player.hpp"
#include "daemon/script/timeline.hpp"
#include "daemon/sweep/pace.hpp"

namespace midstick::sweep {
namespace {

Result<capture::Capture> play_part(engine::Session& session, const script::ControllerDescription& controller, const PlaySettings& how,
                                   const script::StickScript& script, std::size_t part) {
  auto timeline = script::compile(script, controller, how.seed + part);
  if (!timeline) return timeline.error();
  engine::Programme programme;
  programme.segments.push_back({static_cast<int>(part), 0, ScriptTime{}, ScriptTime{} + timeline->length});
  programme.timeline = timeline.take();
  const auto on_progress = [&](const engine::PlayProgress& p) {
    if (how.on_progress)
      how.on_progress({part == kProbeSegment, static_cast<double>(p.done.count) / 1e6, static_cast<double>(p.total.count) / 1e6});
  };
  auto played = engine::play(session, programme, controller, on_progress);
  if (played.cut_short) return *played.cut_short;
  for (const auto& e : played.capture.events)
    if (e.kind == capture::EventKind::edges_lost)
      return Error{ErrorKind::bench_unfit, "the bench lost edges during the sweep (" + e.text + "); sweep again"};
  return std::move(played.capture);
}

/// One after the other on the same board's clock; the later, longer look at that clock counts for both.
capture::Capture joined(capture::Capture first, capture::Capture second) {
  const auto put_before = [](auto& head, auto& tail) { tail.insert(tail.begin(), head.begin(), head.end()); };
  put_before(first.stimulus, second.stimulus);
  put_before(first.response, second.response);
  put_before(first.events, second.events);
  put_before(first.segments, second.segments);
  second.begin = first.begin;
  return second;
}

}  // namespace

Result<capture::Capture> play(engine::Session& session, const script::ControllerDescription& controller, const PlaySettings& how) {
  auto probed = play_part(session, controller, how, probe(controller, how.settings), kProbeSegment);
  if (!probed) return probed;
  const auto pace = pace_of(Lines(*probed, controller), legs_of(probed->segments.front()), controller, how.settings);
  if (!pace) return pace.error();
  auto swept = play_part(session, controller, how, course(controller, how.settings, pace->pace), kCourseSegment);
  if (!swept) return swept;
  return joined(probed.take(), swept.take());
}

}  // namespace midstick::sweep
