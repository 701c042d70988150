#include "daemon/link/stimulus_queue.hpp"

#include <algorithm>

#include "daemon/link/tick_widener.hpp"
#include "protocol/edge_list.hpp"

namespace midstick::link {

void StimulusQueue::clear() {
  waiting_.clear();
  credits_ = {};
}

void StimulusQueue::add(std::span<const StimulusEdge> edges) { waiting_.insert(waiting_.end(), edges.begin(), edges.end()); }

int StimulusQueue::free_places(std::uint8_t line, const std::deque<SentCommand>& in_flight) const {
  int places = credits_.of[line];
  for (const SentCommand& command : in_flight) places -= command.edges[line];
  return std::max(places, 0);
}

std::size_t StimulusQueue::sendable(const std::deque<SentCommand>& in_flight, std::optional<BoardTime> board_now,
                                    BoardSpan longest_ahead) const {
  std::array<int, protocol::kStimulusLines> left{};
  for (std::uint8_t line = 0; line < left.size(); ++line) left[line] = free_places(line, in_flight);
  std::size_t count = 0;
  for (const StimulusEdge& edge : waiting_) {
    if (count == kEdgesPerFrame || left[edge.line] == 0) break;
    if (board_now && edge.at - *board_now > longest_ahead) break;
    --left[edge.line];
    ++count;
  }
  return count;
}

std::vector<StimulusEdge> StimulusQueue::take(std::size_t count) {
  const auto end = waiting_.begin() + static_cast<std::ptrdiff_t>(count);
  std::vector<StimulusEdge> taken(waiting_.begin(), end);
  waiting_.erase(waiting_.begin(), end);
  return taken;
}

std::optional<BoardTime> StimulusQueue::first_at() const {
  if (waiting_.empty()) return std::nullopt;
  return waiting_.front().at;
}

SentCommand stimulus_command(std::uint8_t seq, std::span<const StimulusEdge> edges) {
  SentCommand command;
  command.seq = seq;
  protocol::FixedOutput<protocol::kMaxWireFrame> out;
  protocol::FrameEncoder<decltype(out)> frame(out);
  protocol::Stimulus head{};
  head.base = TickWidener::narrow(edges.front().at);
  frame.begin(protocol::Stimulus::kType, seq);
  protocol::encode(frame, head);
  protocol::EdgeWriter writer(head.base);
  for (const StimulusEdge& edge : edges) {
    writer.put(frame, {TickWidener::narrow(edge.at), edge.line, edge.level, false});
    ++command.edges[edge.line];
  }
  frame.end();
  command.wire.assign(out.data(), out.data() + out.size());
  return command;
}

}  // namespace midstick::link
