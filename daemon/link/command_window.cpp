#include "daemon/link/command_window.hpp"

#include <cassert>
#include <limits>
#include <utility>

namespace midstick::link {

void CommandWindow::reset() {
  in_flight_.clear();
  accepted_ = last_sent_ = 0;
  tries_done_ = 0;
}

void CommandWindow::add(SentCommand command, HostTime now) {
  assert(has_room() && command.seq == next_seq());
  last_sent_ = command.seq;
  in_flight_.push_back(std::move(command));
  if (in_flight_.size() == 1) tries_done_ = 0;
  rearm(now);
}

CommandWindow::Verdict CommandWindow::on_ack(std::uint8_t accepted, bool answers, HostTime now) {
  // Before the first command both numbers are 0; afterwards 0 can only come from a board that forgot us.
  if (accepted == 0 && accepted_ != 0) return Verdict::nonsense;
  const std::uint8_t taken = accepted == accepted_ ? 0 : protocol::steps_ahead(accepted_, accepted);
  if (taken > in_flight_.size()) return Verdict::nonsense;
  if (taken == 0) {
    if (!answers || in_flight_.empty() || now < hurry_from_) return Verdict::nothing;
    return resend(now);
  }
  in_flight_.erase(in_flight_.begin(), in_flight_.begin() + taken);
  accepted_ = accepted;
  tries_done_ = 0;
  rearm(now);
  return Verdict::progress;
}

CommandWindow::Verdict CommandWindow::on_deadline(HostTime now) {
  if (in_flight_.empty() || now < due_) return Verdict::nothing;
  if (++tries_done_ >= tries_) return Verdict::give_up;
  return resend(now);
}

CommandWindow::Verdict CommandWindow::resend(HostTime now) {
  ++resends_;
  hurry_from_ = now + timeout_;
  rearm(now);
  return Verdict::resend;
}

HostTime CommandWindow::deadline() const { return in_flight_.empty() ? HostTime{std::numeric_limits<std::int64_t>::max()} : due_; }

void CommandWindow::rearm(HostTime now) {
  std::int64_t bytes = 0;
  for (const SentCommand& command : in_flight_) bytes += static_cast<std::int64_t>(command.wire.size());
  due_ = now + timeout_ + HostSpan{bytes * byte_ns_};
}

}  // namespace midstick::link
