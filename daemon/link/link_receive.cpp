// Frames in: from untrusted bytes to events in host types.
#include <utility>

#include "daemon/link/link.hpp"
#include "protocol/edge_list.hpp"

namespace midstick::link {

void Link::on_bytes(std::span<const std::uint8_t> bytes, HostTime now) {
  for (std::uint8_t byte : bytes) {
    if (state_ == State::closed || state_ == State::failed) return;
    const protocol::FrameStep step = decoder_.push(byte);
    if (step == protocol::FrameStep::nothing) continue;
    if (step == protocol::FrameStep::frame)
      on_frame(now);
    else if (state_ == State::ready)
      bad_frame();  // before hello, noise is to be expected
  }
  pump(now);
}

void Link::on_frame(HostTime now) {
  const std::span payload(decoder_.payload(), decoder_.payload_size());
  log_.add({now, true, decoder_.type(), decoder_.seq(), {payload.begin(), payload.end()}});
  if (state_ == State::ready) {
    if (last_seq_ == decoder_.seq()) return bad_frame();  // the same frame twice
    count_sequence(decoder_.seq(), now);
  }
  last_seq_ = decoder_.seq();
  ++counters_.frames_in;
  dispatch(decoder_.type(), payload, now);
}

/// The board numbers its frames 0..255 without gaps; a gap is lost data.
void Link::count_sequence(std::uint8_t seq, HostTime now) {
  const auto missing = static_cast<std::uint8_t>(seq - *last_seq_ - 1);
  if (missing == 0) return;
  counters_.lost_frames += missing;
  const BoardTime until = ticks_.expected_now(now).value_or(BoardTime{});
  events_.push_back(Lost{missing, 0, ticks_.newest().value_or(BoardTime{}), until});
}

void Link::dispatch(std::uint8_t type, std::span<const std::uint8_t> payload, HostTime now) {
  const auto as = [&](auto message) {
    if (protocol::decode(payload.data(), static_cast<std::uint8_t>(payload.size()), message))
      handle(message, now);
    else
      bad_frame();
  };
  if (state_ == State::greeting && type != protocol::Hello::kType && type != protocol::SchemaText::kType) return;
  switch (type) {
    case protocol::Hello::kType:
      return as(protocol::Hello{});
    case protocol::SchemaText::kType:
      return as(protocol::SchemaText{});
    case protocol::ClockReply::kType:
      return as(protocol::ClockReply{});
    case protocol::Ack::kType:
      return as(protocol::Ack{});
    case protocol::Edges::kType:
      return as(protocol::Edges{});
    case protocol::Event::kType:
      return as(protocol::Event{});
    case protocol::BoardState::kType:
      return as(protocol::BoardState{});
    default:
      return bad_frame();
  }
}

void Link::handle(const protocol::Hello& hello, HostTime now) {
  ++hellos_heard_;
  if (state_ == State::greeting) {
    greeting_.on_hello(hello, now);
    return settle_greeting(now);
  }
  // A board says hello once by itself after boot and once for each request; more than that is another boot.
  if (hello.boot_id != hello_.boot_id || hellos_heard_ > greeting_.hellos_asked() + 1) restarted(hello.boot_id);
}

void Link::handle(const protocol::SchemaText& piece, HostTime now) {
  if (state_ != State::greeting) return;
  greeting_.on_schema_text(piece, now);
  settle_greeting(now);
}

void Link::settle_greeting(HostTime now) {
  if (!greeting_.outcome()) return;
  if (!greeting_.outcome()->ok()) return fail(greeting_.outcome()->error());
  const protocol::Hello& hello = greeting_.outcome()->value();
  if (hello.tick_rate != protocol::kTickRateHz || hello.capture_lines + hello.pin_change_lines > protocol::kResponseLines)
    return fail({ErrorKind::bench_missing, "the board names limits this program cannot work with: tick rate " +
                                               std::to_string(hello.tick_rate) + " Hz (needs 16000000), response lines " +
                                               std::to_string(hello.capture_lines + hello.pin_change_lines) + " (at most 8)"});
  hello_ = hello;
  state_ = State::ready;
  next_poll_ = now;
  events_.push_back(Greeted{hello});
}

void Link::handle(const protocol::ClockReply& reply, HostTime now) {
  const auto query = queries_.find(reply.token);
  if (query == queries_.end()) return bad_frame();
  const HostTime asked = query->second;
  queries_.erase(query);
  constexpr std::size_t kWireBytes = 10 + protocol::kFrameOverhead + 2;
  const BoardTime sent = ticks_.anchor(reply.sent, now);
  events_.push_back(ClockSampled{{asked, ticks_.widen(reply.received, now), sent, now - least_wire_time(kWireBytes)}});
}

void Link::handle(const protocol::Ack& ack, HostTime now) {
  note_refusal(ack);
  note_progress(ack.accepted, ack.credits, true, now);
}

void Link::note_refusal(const protocol::Ack& ack) {
  if (ack.refused_seq == refused_seq_) return;
  refused_seq_ = ack.refused_seq;
  if (refused_seq_ == 0) return;
  std::string command = "command " + std::to_string(refused_seq_);
  for (const SentCommand& sent : window_.in_flight()) {
    if (sent.seq != refused_seq_) continue;
    protocol::FrameDecoder decoder;
    for (std::uint8_t byte : sent.wire)
      if (decoder.push(byte) == protocol::FrameStep::frame)
        command = frame_text(decoder.type(), decoder.seq(), {decoder.payload(), decoder.payload_size()});
  }
  events_.push_back(Refused{static_cast<protocol::Refusal>(ack.refused), std::move(command)});
}

void Link::note_progress(std::uint8_t accepted, const protocol::LineCredits& credits, bool answers, HostTime now) {
  const CommandWindow::Verdict verdict = window_.on_ack(accepted, answers, now);
  if (verdict != CommandWindow::Verdict::nonsense) stimulus_.set_credits(credits);
  act_on(verdict, now);
}

void Link::handle(const protocol::Edges& frame, HostTime now) {
  const std::uint8_t lines = hello_.capture_lines + hello_.pin_change_lines;
  EdgesArrived arrived;
  protocol::EdgeReader reader(frame.base, frame.edges);
  protocol::EdgeRecord record{};
  protocol::EdgeStep step = protocol::EdgeStep::end;
  while ((step = reader.next(record)) == protocol::EdgeStep::edge) {
    if (record.line >= lines) return bad_frame();
    capture::Edge edge;
    edge.at = ticks_.widen(record.at, now);
    edge.line = record.line;
    edge.level = record.level;
    edge.crowded = record.delayed;
    edge.half_width = record.delayed ? hello_.pin_change_crowded : record.line < hello_.capture_lines ? 1 : hello_.pin_change_half;
    arrived.edges.push_back(edge);
  }
  if (step == protocol::EdgeStep::malformed || arrived.edges.empty()) return bad_frame();
  if (edges_since_start_) *edges_since_start_ += static_cast<std::int64_t>(arrived.edges.size());
  counters_.edges_in += arrived.edges.size();
  events_.push_back(std::move(arrived));
}

void Link::handle(const protocol::Event& event, HostTime now) {
  const auto code = static_cast<protocol::EventCode>(event.kind);
  if (code == protocol::EventCode::started) edges_since_start_ = 0;  // from here on our count and the board's must agree
  events_.push_back(BoardEvent{ticks_.widen(event.at, now), code, event.value});
}

void Link::handle(const protocol::BoardState& status, HostTime now) {
  if (status.boot_id != hello_.boot_id) return restarted(status.boot_id);
  BoardStatus out;
  const BoardTime since = ticks_.newest().value_or(BoardTime{});
  out.now = ticks_.anchor(status.now, now);
  out.mode = static_cast<protocol::BoardMode>(status.state);
  out.fault = static_cast<protocol::Fault>(status.fault);
  out.supply_mv = status.supply;
  out.edges_total = status.edges_total;
  out.stimulus_done = status.stimulus_done;
  out.edges_dropped = status.edges_dropped;
  out.bad_frames = status.bad_frames;
  out.late = status.late;
  out.levels = status.levels;
  out.power_on = (status.outputs & 1) != 0;
  out.reset_held = (status.outputs & 2) != 0;
  out.stop_loop_open = (status.outputs & 4) != 0;
  // A gap of exactly 255 frames looks like a repeated one; the edge count still tells.
  const std::int64_t missing = edges_since_start_ ? static_cast<std::int64_t>(status.edges_total) - *edges_since_start_ : 0;
  if (missing != 0) {
    edges_since_start_ = status.edges_total;
    events_.push_back(Lost{0, missing, since, out.now});
  }
  events_.push_back(out);
  note_progress(status.accepted, status.credits, false, now);
}

void Link::restarted(std::uint32_t boot_id) {
  events_.push_back(Restarted{hello_.boot_id, boot_id});
  fail({ErrorKind::bench_unfit, "the bench board restarted in the middle of the work (boot " + std::to_string(hello_.boot_id) +
                                    ", now boot " + std::to_string(boot_id) + ")"});
}

}  // namespace midstick::link
