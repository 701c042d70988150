// Waits, without holding up the io thread, for work done on another executor.
//
// The coroutine goes on where it was; `work` runs on `executor` and what it gives comes back by value. An exception comes back too.
// begin(): how the daemon starts coroutines of its own.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <optional>
#include <type_traits>
#include <utility>

namespace midstick::service {

template <class Work>
boost::asio::awaitable<std::optional<std::invoke_result_t<Work>>> done_there(Work work) {
  co_return work();
}

template <class Executor, class Work>
boost::asio::awaitable<std::invoke_result_t<Work>> on(Executor executor, Work work) {
  // Optional, since a coroutine's answer must have a default when it ends by an exception.
  auto answer = co_await boost::asio::co_spawn(executor, done_there(std::move(work)), boost::asio::use_awaitable);
  co_return std::move(*answer);
}

/// An exception that nobody expected ends the whole daemon: a half that went on would hold jobs as running for ever. Boards that hear
/// nothing any more go safe by themselves, and what played is recovered at the next start.
void begin(boost::asio::io_context& io, boost::asio::awaitable<void> coroutine);

}  // namespace midstick::service
