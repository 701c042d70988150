// Where a server listens. Private to this room; includes Asio.
#pragma once

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <filesystem>

#include "daemon/core/result.hpp"
#include "daemon/http/server.hpp"

namespace midstick::http {

/// usage: not a numeric address; io: cannot listen there (in use, not allowed), with the system's reason.
Result<boost::asio::ip::tcp::acceptor> listen_tcp(boost::asio::io_context& io, const ServerOptions::Tcp& at);

/// A Unix socket of mode 0660. Whoever holds the lock on PATH.lock owns PATH, so a socket that a killed daemon left is replaced, and one in
/// use (io), or a file that is no socket (io), is left alone. Removed at destruction; the lock file stays.
class UnixListener {
 public:
  static Result<UnixListener> open(boost::asio::io_context& io, const std::filesystem::path& path);
  UnixListener(UnixListener&& other) noexcept;
  UnixListener& operator=(UnixListener&&) = delete;
  ~UnixListener();

  boost::asio::local::stream_protocol::acceptor& acceptor() { return acceptor_; }

 private:
  UnixListener(boost::asio::io_context& io, int lock, std::filesystem::path path) : acceptor_(io), lock_(lock), path_(std::move(path)) {}
  Status listen();

  boost::asio::local::stream_protocol::acceptor acceptor_;
  int lock_;
  std::filesystem::path path_;
  bool bound_{false};
};

/// Is it a numeric address of this machine only?
bool is_loopback(const std::string& address);
/// The address as it stands in a Host field: "[::1]".
std::string host_form(const std::string& address);

}  // namespace midstick::http
