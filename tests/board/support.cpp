#include "tests/board/support.hpp"

#include <algorithm>
#include <cstdlib>

namespace midstick::board_test {

BoardHost::BoardHost(vb::VirtualBenchOptions options) {
  if (options.board_image.empty() && !std::getenv("MIDSTICK_BOARD_IMAGE")) options.board_image = BOARD_IMAGE;
  auto made = vb::VirtualBench::make(options);
  if (!made) {
    ADD_FAILURE() << made.error().message;
    std::abort();
  }
  bench_ = made.take();
}

void BoardHost::run_until_ns(std::int64_t ns) {
  std::uint8_t buffer[256];
  while (bench_->now().count < ns) {
    const auto got = bench_->read(buffer, HostTime{ns});
    if (!got) break;
    for (std::size_t i = 0; i < *got; ++i) take_byte(buffer[i]);
  }
}

void BoardHost::run_ms(double ms) { run_until_ns(bench_->now().count + static_cast<std::int64_t>(ms * 1e6)); }

void BoardHost::take_byte(std::uint8_t byte) {
  const wire::FrameStep step = decoder_.push(byte);
  if (step == wire::FrameStep::frame) take_frame();
  if (step != wire::FrameStep::frame && step != wire::FrameStep::nothing) ++bad_frames;
}

void BoardHost::take_frame() {
  if (heard_ && decoder_.seq() != static_cast<std::uint8_t>(board_seq_ + 1)) ++gaps;
  heard_ = true;
  board_seq_ = decoder_.seq();
  const auto keep = [&](auto& list) {
    typename std::remove_reference_t<decltype(list)>::value_type message;
    if (wire::decode(decoder_.payload(), decoder_.payload_size(), message)) {
      list.push_back(message);
    } else {
      ++bad_frames;
    }
  };
  switch (static_cast<wire::MessageType>(decoder_.type())) {
    case wire::MessageType::hello:
      keep(hellos);
      break;
    case wire::MessageType::event:
      keep(events);
      break;
    case wire::MessageType::clock_reply:
      keep(clock_replies);
      break;
    case wire::MessageType::status:
      keep(statuses);
      break;
    case wire::MessageType::ack:
      keep(acks);
      break;
    case wire::MessageType::edges: {
      wire::Edges message;
      if (wire::decode(decoder_.payload(), decoder_.payload_size(), message)) take_edges(message);
      break;
    }
    case wire::MessageType::schema_text: {
      wire::SchemaText message;
      if (wire::decode(decoder_.payload(), decoder_.payload_size(), message))
        schema_text.append(reinterpret_cast<const char*>(message.text.data), message.text.size);
      break;
    }
    default:
      ++bad_frames;
  }
  if (decoder_.type() == wire::Ack::kType && !acks.empty()) {
    while (!under_way_seq_.empty() && wire::steps_ahead(under_way_seq_.front(), acks.back().accepted) <= wire::kWindow) {
      under_way_seq_.pop_front();
      under_way_.pop_front();
    }
    for (std::size_t i = 0; i < credits_.size(); ++i) credits_[i] = acks.back().credits.of[i];
  }
}

void BoardHost::take_edges(const wire::Edges& message) {
  wire::EdgeReader reader(message.base, message.edges);
  wire::EdgeRecord record;
  while (reader.next(record) == wire::EdgeStep::edge) edges.push_back({record.at.count, record.line, record.level, record.delayed});
}

int BoardHost::wait_for_ack() {
  for (int i = 0; i < 50; ++i) {
    run_ms(1);
    if (acks.empty() || acks.back().accepted != seq_) continue;
    return acks.back().refused_seq == seq_ ? acks.back().refused : 0;
  }
  ADD_FAILURE() << "no ack for command " << int{seq_};
  return -1;
}

wire::Hello BoardHost::hello() {
  hellos.clear();
  transmit(0, wire::HelloRequest{});
  seq_ = 0;
  under_way_.clear();
  under_way_seq_.clear();
  for (int i = 0; i < 50 && hellos.empty(); ++i) run_ms(1);
  if (hellos.empty()) {
    ADD_FAILURE() << "no hello";
    return {};
  }
  return hellos.back();
}

void BoardHost::start(std::uint8_t lines, std::uint16_t refresh_ms) {
  if (!heard_) run_ms(60);  // boot
  hello();
  edges.clear();
  events.clear();
  statuses.clear();
  bench_->take_truth();
  EXPECT_EQ(refusal_of(wire::Start{refresh_ms, lines}), 0);
  clock_replies.clear();
  transmit(0, wire::ClockQuery{1});
  run_ms(2);
  if (clock_replies.empty()) {
    ADD_FAILURE() << "no clock reply";
    return;
  }
  // Good to a millisecond or so; align() makes it exact.
  if (cycle_of_tick_0_ == 0) cycle_of_tick_0_ = bench_->board_cycle() - clock_replies.back().sent.count;
}

void BoardHost::align() {
  const std::uint32_t at = tick_now() + 20 * kMs;
  const std::size_t before = truth(vb::Wire::stimulus, 0).size();
  plan({{at, 0, true}, {at + 24000, 0, false}});
  stream_ms(30);
  const auto seen = truth(vb::Wire::stimulus, 0);
  ASSERT_EQ(seen.size(), before + 2);
  cycle_of_tick_0_ = seen[before].board_cycle - at;
}

std::int64_t BoardHost::ns_of_tick(std::uint32_t tick) const {
  const std::uint64_t here = bench_->board_cycle();
  const auto ahead = static_cast<std::int32_t>(tick - tick_of(here));
  return bench_->true_ps(here + static_cast<std::uint64_t>(static_cast<std::int64_t>(ahead))) / 1000;
}

void BoardHost::send_stimulus() {
  // Room by the last ack, less what is under way.
  std::array<int, 6> room = credits_;
  for (const auto& frame : under_way_)
    for (std::size_t i = 0; i < 6; ++i) room[i] -= frame[i];
  while (!pending_.empty() && under_way_.size() < wire::kWindow) {
    wire::FixedOutput<256> list;
    std::array<int, 6> counts{};
    const wire::WireTick base{pending_.front().at};
    wire::EdgeWriter writer(base);
    while (!pending_.empty() && list.size() + wire::kMaxEdgeBytes <= 120 && room[pending_.front().line] > 0) {
      const Edge edge = pending_.front();
      writer.put(list, {wire::WireTick{edge.at}, edge.line, edge.level, false});
      --room[edge.line];
      ++counts[edge.line];
      pending_.pop_front();
    }
    if (list.size() == 0) break;
    command(wire::Stimulus{base, {list.data(), static_cast<std::uint8_t>(list.size())}});
    last_sent_ns_ = bench_->now().count;
    under_way_.push_back(counts);
    under_way_seq_.push_back(seq_);
  }
  if (bench_->now().count - last_sent_ns_ > 100'000'000 && under_way_.size() < wire::kWindow) {
    last_sent_ns_ = bench_->now().count;
    command(wire::Refresh{});
    under_way_.push_back({});
    under_way_seq_.push_back(seq_);
  }
}

void BoardHost::stream_ms(double ms) {
  const std::int64_t end = bench_->now().count + static_cast<std::int64_t>(ms * 1e6);
  while (bench_->now().count < end) {
    send_stimulus();
    run_until_ns(std::min<std::int64_t>(end, bench_->now().count + 2'000'000));
  }
}

bool BoardHost::saw(wire::EventCode kind, int value) const {
  return std::any_of(events.begin(), events.end(), [&](const wire::Event& event) {
    return event.kind == static_cast<std::uint8_t>(kind) && (value < 0 || event.value == value);
  });
}

bool BoardHost::relay_on() const {
  const auto edges_seen = truth(vb::Wire::relay);
  return !edges_seen.empty() && edges_seen.back().level;
}

vb::TruthRecord BoardHost::truth(vb::Wire kind, int line) const {
  vb::TruthRecord some;
  for (const vb::TrueEdge& edge : bench_->truth())
    if (edge.wire == kind && (line < 0 || edge.line == line)) some.push_back(edge);
  return some;
}

std::vector<Edge> pulses(std::uint8_t line, std::uint32_t first, std::uint32_t period, const std::vector<std::uint32_t>& widths) {
  std::vector<Edge> list;
  for (std::size_t i = 0; i < widths.size(); ++i) {
    const auto rise = static_cast<std::uint32_t>(first + i * period);
    list.push_back({rise, line, true});
    list.push_back({rise + widths[i], line, false});
  }
  return list;
}

std::vector<Edge> merged(std::vector<std::vector<Edge>> lists, std::uint32_t base) {
  std::vector<Edge> all;
  for (const auto& list : lists) all.insert(all.end(), list.begin(), list.end());
  std::stable_sort(all.begin(), all.end(), [base](const Edge& a, const Edge& b) { return a.at - base < b.at - base; });
  return all;
}

}  // namespace midstick::board_test
