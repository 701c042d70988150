// Errors are values with evidence at every boundary; assertions are only for our own bugs.
//
// Result<T> holds a value or an Error. Exit codes of the command line follow from Error::kind (see exit_code).
// Plain values, no threads; reading the absent side is a programming error (assert / std::get throws).
#pragma once

#include <string>
#include <utility>
#include <variant>

namespace midstick {

enum class ErrorKind {
  usage,          ///< wrong command line: exit 64
  bad_file,       ///< a file does not say what it must: exit 65
  bench_missing,  ///< no such port, no board behind it, wrong protocol: exit 3
  bench_unfit,    ///< the bench lost data, time or itself during the run: exit 3
  stop_loop,      ///< the bench board's stop loop is open, by a person or by a broken wire: exit 3; never tried again by itself
  stopped,        ///< a person stopped the run: exit 2
  io              ///< the host could not read or write its own files: exit 3
};

struct Error {
  ErrorKind kind{};
  std::string message;  ///< one sentence a person can act on; names file, place and what was expected
};

/// 64 usage, 65 bad file, 2 stopped, else 3.
constexpr int exit_code(ErrorKind kind) {
  switch (kind) {
    case ErrorKind::usage:
      return 64;
    case ErrorKind::bad_file:
      return 65;
    case ErrorKind::stopped:
      return 2;
    default:
      return 3;
  }
}

template <class T>
class [[nodiscard]] Result {
 public:
  Result(T value) : state_(std::move(value)) {}      // NOLINT(google-explicit-constructor): reads as return value
  Result(Error error) : state_(std::move(error)) {}  // NOLINT(google-explicit-constructor)

  bool ok() const { return state_.index() == 0; }
  explicit operator bool() const { return ok(); }
  T& value() { return std::get<0>(state_); }
  const T& value() const { return std::get<0>(state_); }
  T take() { return std::move(std::get<0>(state_)); }
  const Error& error() const { return std::get<1>(state_); }
  T* operator->() { return &value(); }
  const T* operator->() const { return &value(); }
  T& operator*() { return value(); }
  const T& operator*() const { return value(); }

 private:
  std::variant<T, Error> state_;
};

struct Ok {};
using Status = Result<Ok>;

}  // namespace midstick
