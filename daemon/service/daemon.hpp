// The daemon put together: database, benches, work, nights, API and page on one io_context, one thread.
//
// start() listens and begins; from then on everything happens while somebody runs the io_context. stop() first puts pulses and controller
// power off on every bench, then keeps what was played, then closes the API, then stops the io_context. The io_context must outlive it.
#pragma once

#include <boost/asio/io_context.hpp>
#include <functional>
#include <memory>
#include <string>

#include "daemon/core/result.hpp"
#include "daemon/service/config.hpp"

namespace midstick::service {

class Daemon {
 public:
  struct Options {
    std::string version;
    /// The configuration as it is now on disk; blocks.
    std::function<Result<Config>()> read_again;
  };
  /// Error{usage} or Error{io}: it cannot listen, or there is nowhere to keep runs; Error{bad_file}: the tokens. A database that is away
  /// is no error.
  static Result<std::unique_ptr<Daemon>> start(boost::asio::io_context& io, Config config, Options options);
  ~Daemon();

  std::string page() const;  ///< "http://127.0.0.1:7357/"
  void reload();             ///< in the background; what is wrong goes to the log and changes nothing
  void stop();

 private:
  class Impl;
  explicit Daemon(std::shared_ptr<Impl> impl);
  std::shared_ptr<Impl> impl_;
};

}  // namespace midstick::service
