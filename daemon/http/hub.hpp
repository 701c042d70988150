// Live messages to many listeners, none of whom can hold up the publisher or each other.
//
// `publish` may be called from any thread; it takes a short lock, copies one message and returns. Everything else happens on the server's
// thread. No sockets here: a listener is a bounded queue which the server's connection empties.
//   Coalescing: an unsent message with the same key is replaced by the newer one, in its place. So a slow listener gets the newest.
//   The rule for dropping: its queue is over `queue_bound` messages; or a message handed to its socket was not taken within `stall`;
//   or it has sent nothing, not even a pong, for `silence`.
#pragma once

#include <chrono>
#include <cstdint>
#include <deque>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

namespace midstick::http {

using Instant = std::chrono::steady_clock::time_point;

struct Message {
  std::string topic;  ///< whom it interests, see WebSocket::wants
  std::string key;    ///< coalesced by it, say "live BENCH" or "changed jobs 7"; "": never
  std::string text;   ///< what is sent
};

struct HubOptions {
  std::size_t queue_bound{256};  ///< messages
  std::chrono::seconds stall{10}, ping{20}, silence{60};
};

struct HubCounters {
  std::size_t listeners{0};  ///< now
  std::uint64_t joined{0}, published{0}, coalesced{0}, dropped_stalled{0}, dropped_full{0}, dropped_silent{0};
};

/// Messages in order, those with equal keys coalesced. Not safe for threads.
class MessageQueue {
 public:
  using Shared = std::shared_ptr<const Message>;
  /// False when it replaced an older one.
  bool push(Shared message);
  Shared pop();  ///< null: empty
  std::size_t size() const { return waiting_.size(); }
  void clear();

 private:
  std::deque<Shared> waiting_;
  std::uint64_t popped_{0};                                ///< index of waiting_.front() since the start
  std::unordered_map<std::string, std::uint64_t> by_key_;  ///< index since the start
};

/// One listener; server's thread only. The connection calls the upper four; `wake` and `drop` are the hub's calls to it.
class Listener {
 public:
  struct Callbacks {
    std::function<void()> wake;  ///< something to send: call `next`; must not call back into the hub at once
    std::function<void()> drop;  ///< close at once, without waiting for the peer
    std::function<void()> ping;  ///< send a ping
  };
  MessageQueue::Shared next(Instant now);  ///< null: nothing to send; else the write has begun
  void greet(std::string text);            ///< the first message, ahead of all others
  void taken();                            ///< the write has ended
  void heard(Instant now);                 ///< the peer sent something, a pong too

 private:
  friend class Hub;
  MessageQueue queue_;
  Callbacks callbacks_;
  std::function<bool(std::string_view)> wants_;
  std::optional<Instant> write_began_;
  Instant heard_{}, pinged_{};
};

class Hub {
 public:
  /// `post` runs a function soon on the server's thread, and may be called from any.
  Hub(HubOptions options, std::function<void(std::function<void()>)> post);

  void publish(Message message);  ///< any thread

  // Server's thread only:
  std::shared_ptr<Listener> join(std::function<bool(std::string_view)> wants, Listener::Callbacks callbacks, Instant now);
  void leave(const std::shared_ptr<Listener>& listener);
  void sweep(Instant now);  ///< applies the rule, asks for pings
  HubCounters counters() const;

 private:
  void hand_out();
  void drop(std::size_t index, std::uint64_t& counter);

  HubOptions options_;
  std::function<void(std::function<void()>)> post_;
  std::vector<std::shared_ptr<Listener>> listeners_;
  HubCounters counters_;

  mutable std::mutex mutex_;  ///< guards the three below
  MessageQueue inbox_;
  bool posted_{false};
  std::uint64_t published_{0}, coalesced_{0};
};

}  // namespace midstick::http
