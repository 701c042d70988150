#include "daemon/service/on.hpp"

#include <spdlog/spdlog.h>

namespace midstick::service {

void begin(boost::asio::io_context& io, boost::asio::awaitable<void> coroutine) {
  boost::asio::co_spawn(io, std::move(coroutine), [](const std::exception_ptr& unexpected) noexcept {
    if (!unexpected) return;
    spdlog::critical("the daemon has made a mistake and ends; boards go safe by themselves");
    spdlog::shutdown();
    std::rethrow_exception(unexpected);  // out of noexcept: std::terminate, which says what it was
  });
}

}  // namespace midstick::service
