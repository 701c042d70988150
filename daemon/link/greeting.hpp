// Saying hello: ask until the board answers, compare versions, and on a mismatch read the board's schema text to say what differs.
//
// Sans IO: the owner sends what `ask()` says and hands in what arrives. A board may be busy booting for seconds, so hello is repeated
// patiently; schema pieces are repeated a few times. Host ns. No threads. Failure is an Error{bench_missing} from `outcome()`.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>

#include "daemon/core/result.hpp"
#include "daemon/core/time.hpp"
#include "protocol/messages.hpp"

namespace midstick::link {

class Greeting {
 public:
  using Question = std::variant<protocol::HelloRequest, protocol::SchemaRead>;

  /// Ask every `interval` for at most `patience`.
  Greeting(HostSpan interval, HostSpan patience) : interval_(interval), patience_(patience) {}

  void begin(HostTime now);
  void on_hello(const protocol::Hello& hello, HostTime now);
  void on_schema_text(const protocol::SchemaText& piece, HostTime now);
  /// The question to send now, if one is due.
  std::optional<Question> ask(HostTime now);
  HostTime deadline() const { return due_; }
  /// Nothing while undecided.
  const std::optional<Result<protocol::Hello>>& outcome() const { return outcome_; }
  int hellos_asked() const { return hellos_asked_; }

 private:
  void refuse();

  HostSpan interval_, patience_;
  HostTime due_{}, end_{};
  int hellos_asked_{0};
  std::optional<protocol::Hello> stranger_;  // a board whose schema we are reading
  std::string text_;
  bool text_done_{false};
  std::optional<Result<protocol::Hello>> outcome_;
};

/// Lines only in one of two schema texts, board first, at most `limit` of them: "board: ...\nhost:  ...".
std::string schema_difference(const std::string& board, const std::string& host, int limit);

}  // namespace midstick::link
