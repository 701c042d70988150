// Commands out: queueing, windows, credits, keeping the board refreshed. Frames in are in link_receive.cpp.
#include "daemon/link/link.hpp"

#include <algorithm>
#include <cassert>
#include <limits>
#include <utility>

namespace midstick::link {
namespace {
constexpr HostTime kNever{std::numeric_limits<std::int64_t>::max()};
constexpr std::size_t kQueriesKept = 32;
}  // namespace

Link::Link(LinkSettings settings)
    : settings_(settings),
      greeting_(settings.hello_interval, settings.hello_patience),
      window_(settings.ack_timeout, settings.ack_tries, settings.byte_ns) {}

void Link::open(HostTime now) {
  state_ = State::greeting;
  error_.reset();
  decoder_ = {};
  window_.reset();
  stimulus_.clear();
  commands_.clear();
  ticks_.reset();
  events_.clear();
  output_.assign(1, 0);  // a lone delimiter ends whatever half frame the board may still hold
  queries_.clear();
  hellos_heard_ = 0;
  last_seq_.reset();
  edges_since_start_.reset();
  refused_seq_ = 0;
  run_on_ = false;
  greeting_.begin(now);
  on_deadline(now);
}

void Link::on_deadline(HostTime now) {
  if (state_ == State::closed || state_ == State::failed) return;
  if (state_ == State::greeting) {
    if (const auto question = greeting_.ask(now))
      put(std::visit([&](const auto& message) { return frame_of(0, message); }, *question), now);
    return settle_greeting(now);
  }
  act_on(window_.on_deadline(now), now);
  pump(now);
}

std::vector<std::uint8_t> Link::take_output() { return std::exchange(output_, {}); }

HostTime Link::next_deadline() const {
  if (state_ == State::greeting) return greeting_.deadline();
  if (state_ != State::ready) return kNever;
  HostTime due = window_.deadline();
  if (!window_.empty()) return due;  // an ack or the window's own timer comes first
  if (run_on_) due = std::min(due, next_refresh_);
  if (stimulus_.size() > 0) due = std::min(due, next_poll_);
  return due;
}

std::optional<LinkEvent> Link::next_event() {
  if (events_.empty()) return std::nullopt;
  LinkEvent event = std::move(events_.front());
  events_.pop_front();
  return event;
}

void Link::start(std::uint16_t refresh_ms, std::uint8_t lines, HostTime now) {
  if (!ready()) return;
  assert(refresh_ms >= 20 && refresh_ms <= 10'000);
  stimulus_.clear();
  commands_.push_back(protocol::Start{refresh_ms, lines});
  run_on_ = true;
  refresh_every_ = {host_ms(refresh_ms).count / 4};
  next_refresh_ = now + refresh_every_;
  pump(now);
}

void Link::stimulate(std::span<const StimulusEdge> edges, HostTime now) {
  if (!ready()) return;
  assert(std::all_of(edges.begin(), edges.end(), [&](const StimulusEdge& e) { return e.line < protocol::kStimulusLines; }));
  stimulus_.add(edges);
  pump(now);
}

void Link::power(bool on, std::optional<BoardTime> at, HostTime now) {
  if (!ready()) return;
  commands_.push_back(protocol::Power{TickWidener::narrow(at.value_or(BoardTime{})), !at.has_value(), on});
  pump(now);
}

void Link::reset_controller(std::uint16_t hold_ms, std::optional<BoardTime> at, HostTime now) {
  if (!ready()) return;
  assert(hold_ms >= 1 && hold_ms <= 10'000);
  commands_.push_back(protocol::ControllerReset{TickWidener::narrow(at.value_or(BoardTime{})), !at.has_value(), hold_ms});
  pump(now);
}

void Link::stop(HostTime now) {
  if (!ready()) return;
  stimulus_.clear();
  commands_.clear();
  commands_.push_back(protocol::Stop{});
  run_on_ = false;
  pump(now);
}

void Link::query_clock(HostTime now) {
  if (!ready()) return;
  if (queries_.size() >= kQueriesKept) queries_.erase(queries_.begin());
  const std::uint16_t token = next_token_++;
  put(frame_of(0, protocol::ClockQuery{token}), now);
  // Everything that waits to be sent goes first, so the query cannot be at the board before all of it has passed the wire.
  queries_[token] = now + least_wire_time(output_.size());
}

/// Never more than the bytes really take: bauds differ by up to 1 %, and a receiver is done half a bit before the last one ends.
HostSpan Link::least_wire_time(std::size_t bytes) const {
  const std::int64_t whole = static_cast<std::int64_t>(bytes) * settings_.byte_ns;
  return {std::max<std::int64_t>(0, whole - whole / 100 - settings_.byte_ns / 10)};
}

/// Send whatever may be sent now.
void Link::pump(HostTime now) {
  if (!ready()) return;
  while (!commands_.empty() && window_.has_room()) {
    const CommandMessage message = std::move(commands_.front());
    commands_.pop_front();
    send_now(window_.next_seq(), message, now);
  }
  if (commands_.empty()) send_stimulus(now);
  keep_alive(now);
}

void Link::send_stimulus(HostTime now) {
  const auto board_now = ticks_.expected_now(now);
  while (window_.has_room()) {
    const std::size_t count = stimulus_.sendable(window_.in_flight(), board_now, BoardSpan{hello_.longest_ahead});
    if (count == 0) return;
    // Small frames cost an ack each: wait for more credit while there is time for it.
    const bool worthwhile = count >= StimulusQueue::kEdgesPerFrame / 2 || count == stimulus_.size();
    if (!worthwhile && !(stimulus_is_near(now) && now >= next_poll_)) return;
    SentCommand command = stimulus_command(window_.next_seq(), stimulus_.take(count));
    put(command.wire, now);
    window_.add(std::move(command), now);
    next_refresh_ = now + refresh_every_;
    next_poll_ = now + settings_.credit_poll;
  }
}

bool Link::stimulus_is_near(HostTime now) const {
  const auto first = stimulus_.first_at();
  const auto board_now = ticks_.expected_now(now);
  return first && (!board_now || (*first - *board_now).count < settings_.stimulus_near.count * kTicksPerUs / 1000);
}

/// Nothing in flight and the board waits for a sign of life, or stimulus for credits: a refresh brings both.
void Link::keep_alive(HostTime now) {
  if (!window_.empty()) return;
  const bool starved = stimulus_.size() > 0 && now >= next_poll_;
  if (!starved && !(run_on_ && now >= next_refresh_)) return;
  send_now(window_.next_seq(), protocol::Refresh{}, now);
  next_poll_ = now + (stimulus_is_near(now) ? settings_.credit_poll : settings_.idle_poll);
}

void Link::send_now(std::uint8_t seq, const CommandMessage& message, HostTime now) {
  SentCommand command;
  command.seq = seq;
  command.wire = std::visit([&](const auto& m) { return frame_of(seq, m); }, message);
  put(command.wire, now);
  window_.add(std::move(command), now);
  next_refresh_ = now + refresh_every_;
}

template <class Message>
std::vector<std::uint8_t> Link::frame_of(std::uint8_t seq, const Message& message) const {
  protocol::FixedOutput<protocol::kMaxWireFrame> out;
  const bool fits = protocol::write_frame(out, seq, message);
  assert(fits);
  (void)fits;
  return {out.data(), out.data() + out.size()};
}

void Link::put(std::span<const std::uint8_t> wire, HostTime now) {
  output_.insert(output_.end(), wire.begin(), wire.end());
  ++counters_.frames_out;
  protocol::FrameDecoder decoder;
  for (std::uint8_t byte : wire)
    if (decoder.push(byte) == protocol::FrameStep::frame)
      log_.add({now, false, decoder.type(), decoder.seq(), {decoder.payload(), decoder.payload() + decoder.payload_size()}});
}

void Link::act_on(CommandWindow::Verdict verdict, HostTime now) {
  if (verdict == CommandWindow::Verdict::nonsense) return bad_frame();
  if (verdict == CommandWindow::Verdict::give_up)
    return fail({ErrorKind::bench_unfit,
                 "the bench board stopped answering: no answer to " + std::to_string(settings_.ack_tries) + " tries of a command"});
  if (verdict != CommandWindow::Verdict::resend) return;
  ++counters_.resends;
  for (const SentCommand& command : window_.in_flight()) put(command.wire, now);
}

void Link::fail(Error error) {
  if (state_ == State::failed) return;
  state_ = State::failed;
  run_on_ = false;
  error_ = error;
  events_.push_back(Failed{std::move(error)});
}

}  // namespace midstick::link
