#include "tests/link/model_board.hpp"

#include <algorithm>

namespace midstick::link::test {

using namespace protocol;

void ModelBoard::boot(BoardOptions options, std::int64_t now_ns) {
  options_ = std::move(options);
  boot_ns_ = now_ns;
  deaf_until_ = now_ns + options_.boot_takes_ns;
  greeted_once_ = false;
  decoder_ = {};
  gate_.reset();
  halt();
  fault = Fault::none;
  refused_seq_ = 0;
  next_board_seq = 0;
  output_.clear();
}

std::int64_t ModelBoard::tick_at(std::int64_t now_ns) const {
  return options_.first_tick + static_cast<std::int64_t>(static_cast<double>(now_ns - boot_ns_) * 0.016 * (1 + options_.ppm / 1e6));
}

std::int64_t ModelBoard::widen(WireTick tick, std::int64_t now_ns) const {
  const std::int64_t now = tick_at(now_ns);
  return now + (tick - WireTick{static_cast<std::uint32_t>(now)});
}

template <class Message>
void ModelBoard::send(const Message& message) {
  FixedOutput<kMaxWireFrame> out;
  write_frame(out, next_board_seq++, message);
  output_.insert(output_.end(), out.data(), out.data() + out.size());
}
template void ModelBoard::send(const Edges&);
template void ModelBoard::send(const BoardState&);
template void ModelBoard::send(const Ack&);
template void ModelBoard::send(const Hello&);
template void ModelBoard::send(const ClockReply&);

void ModelBoard::on_byte(std::uint8_t byte, std::int64_t now_ns) {
  advance(now_ns);
  if (now_ns < deaf_until_) return;
  if (decoder_.push(byte) == FrameStep::frame) on_frame(now_ns);
}

void ModelBoard::on_frame(std::int64_t now_ns) {
  const std::span payload(decoder_.payload(), decoder_.payload_size());
  const std::uint8_t type = decoder_.type();
  last_heard_ = now_ns;
  if (type == HelloRequest::kType) {
    ++hello_requests;
    gate_.reset();
    refused_seq_ = 0;
    halt();
    return say_hello();
  }
  if (type == SchemaRead::kType) {
    SchemaRead read{};
    if (!decode(payload.data(), decoder_.payload_size(), read)) return;
    SchemaText text{read.offset, static_cast<std::uint16_t>(options_.schema.size()), {nullptr, 0}};
    if (read.offset < options_.schema.size()) {
      text.text.data = reinterpret_cast<const std::uint8_t*>(options_.schema.data()) + read.offset;
      text.text.size = static_cast<std::uint8_t>(std::min<std::size_t>(200, options_.schema.size() - read.offset));
    }
    return send(text);
  }
  if (type == ClockQuery::kType) {
    ClockQuery query{};
    const WireTick now{static_cast<std::uint32_t>(tick_at(now_ns))};
    if (decode(payload.data(), decoder_.payload_size(), query)) send(ClockReply{query.token, now, now});
    return;
  }
  const Admit admit = gate_.admit(decoder_.seq());
  if (admit == Admit::unordered) return;
  if (admit == Admit::take) obey(type, payload, decoder_.seq(), now_ns);
  if (admit == Admit::ahead && type == Stop::kType) halt();
  say_ack();
}

void ModelBoard::obey(std::uint8_t type, std::span<const std::uint8_t> payload, std::uint8_t seq, std::int64_t now_ns) {
  commands.push_back(type);
  const auto size = static_cast<std::uint8_t>(payload.size());
  Start start{};
  Stimulus stimulus{};
  Power on{};
  ControllerReset reset{};
  if (type == Start::kType && decode(payload.data(), size, start)) {
    halt();
    refused_seq_ = 0;
    fault = Fault::none;
    started = true;
    edges_total_ = stimulus_done_ = 0;
    refresh_ns_ = start.refresh * 1'000'000ll;
    next_status_ = now_ns + 100'000'000;
    say_event(EventCode::started, 0, now_ns);
  } else if (type == Stimulus::kType && decode(payload.data(), size, stimulus)) {
    take_stimulus(stimulus, seq, now_ns);
  } else if (type == Power::kType && decode(payload.data(), size, on)) {
    if (!started) return refuse(Refusal::not_started, seq);
    power = on.on != 0;
    say_event(power ? EventCode::power_on : EventCode::power_off, 0, now_ns);
  } else if (type == ControllerReset::kType && decode(payload.data(), size, reset)) {
    holds.push_back(reset.hold);
  } else if (type == Stop::kType) {
    halt();
    say_event(EventCode::stopped, 0, now_ns);
  } else if (type != Refresh::kType) {
    refuse(Refusal::bad_value, seq);
  }
}

void ModelBoard::take_stimulus(const Stimulus& stimulus, std::uint8_t seq, std::int64_t now_ns) {
  if (!started) return refuse(Refusal::not_started, seq);
  EdgeReader reader(stimulus.base, stimulus.edges);
  EdgeRecord edge{};
  while (reader.next(edge) == EdgeStep::edge) {
    const std::int64_t at = widen(edge.at, now_ns);
    if (at < tick_at(now_ns) + 160) return refuse(Refusal::late, seq);
    if (queues_[edge.line].size() >= options_.queue_depth) return refuse(Refusal::no_credit, seq);
    queues_[edge.line].push_back({at, edge.line, edge.level});
  }
}

void ModelBoard::refuse(Refusal reason, std::uint8_t seq) {
  if (refused_seq_ != 0) return;
  refused = reason;
  refused_seq_ = seq;
}

void ModelBoard::advance(std::int64_t now_ns) {
  if (!greeted_once_ && now_ns >= deaf_until_) {
    greeted_once_ = true;
    say_hello();
  }
  const std::int64_t tick = tick_at(now_ns);
  for (auto& queue : queues_)
    for (; !queue.empty() && queue.front().tick <= tick; queue.pop_front()) {
      done.push_back(queue.front());
      ++stimulus_done_;
      if (queue.front().line > 1) continue;  // S1 and S2 are looped to R1 and R2, 100 us later
      const WireTick at{static_cast<std::uint32_t>(queue.front().tick + 1600)};
      std::uint8_t bytes[2] = {static_cast<std::uint8_t>((queue.front().level ? 0x80 : 0) | queue.front().line), 0};
      ++edges_total_;
      responses.push_back(static_cast<std::uint64_t>(queue.front().tick + 1600));
      send(Edges{at, {bytes, 2}});
    }
  if (started && now_ns - last_heard_ > refresh_ns_) safe(Fault::host_silent, now_ns);
  if ((started || fault != Fault::none) && now_ns >= next_status_) {
    say_status(now_ns);
    next_status_ = now_ns + 100'000'000;
  }
}

void ModelBoard::safe(Fault reason, std::int64_t now_ns) {
  halt();
  fault = reason;
  say_event(EventCode::fault, static_cast<std::uint16_t>(reason), now_ns);
}

void ModelBoard::halt() {
  if (started) ++stops_carried_out;
  started = power = false;
  for (auto& queue : queues_) queue.clear();
}

LineCredits ModelBoard::credits() const {
  LineCredits free{};
  for (std::size_t line = 0; line < queues_.size(); ++line)
    free.of[line] = static_cast<std::uint8_t>(options_.queue_depth - queues_[line].size());
  return free;
}

void ModelBoard::say_hello() {
  Hello hello{};
  hello.protocol = options_.protocol;
  hello.schema_hash = fnv1a(options_.schema.data(), options_.schema.size());
  hello.boot_id = options_.boot_id;
  hello.tick_rate = kTickRateHz;
  hello.stimulus_lines = 6;
  hello.capture_lines = 2;
  hello.pin_change_lines = options_.pin_change_lines;
  hello.queue_depth = options_.queue_depth;
  hello.shortest_level = 160;
  hello.lead = 160;
  hello.longest_ahead = 16'000'000;
  hello.shortest_frame = 32'000;
  hello.longest_frame = 16'000'000;
  hello.refresh_max = 2000;
  hello.pin_change_half = 4;
  hello.pin_change_crowded = 200;
  send(hello);
}

void ModelBoard::say_ack() {
  send(Ack{gate_.accepted(), static_cast<std::uint8_t>(refused_seq_ ? refused : Refusal::none), refused_seq_, credits()});
}

void ModelBoard::say_event(EventCode code, std::uint16_t value, std::int64_t now_ns) {
  send(Event{{static_cast<std::uint32_t>(tick_at(now_ns))}, static_cast<std::uint8_t>(code), value});
}

void ModelBoard::say_status(std::int64_t now_ns) {
  BoardState status{};
  status.now.count = static_cast<std::uint32_t>(tick_at(now_ns));
  status.boot_id = options_.boot_id;
  status.state = static_cast<std::uint8_t>(started ? BoardMode::started : fault != Fault::none ? BoardMode::faulted : BoardMode::idle);
  status.fault = static_cast<std::uint8_t>(fault);
  status.accepted = gate_.accepted();
  status.credits = credits();
  status.supply = 12'000;
  status.edges_total = edges_total_;
  status.stimulus_done = stimulus_done_;
  status.outputs = power ? 1 : 0;
  send(status);
}

}  // namespace midstick::link::test
