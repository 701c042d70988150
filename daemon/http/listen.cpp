#include "daemon/http/listen.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <boost/asio/ip/v6_only.hpp>
#include <cstring>

namespace midstick::http {

namespace asio = boost::asio;
using boost::system::error_code;

Result<asio::ip::tcp::acceptor> listen_tcp(asio::io_context& io, const ServerOptions::Tcp& at) {
  error_code error;
  const auto address = asio::ip::make_address(at.address, error);
  if (error) return Error{ErrorKind::usage, "cannot listen at \"" + at.address + "\": expected a numeric address such as 127.0.0.1"};
  const asio::ip::tcp::endpoint endpoint(address, at.port);
  asio::ip::tcp::acceptor acceptor(io);
  acceptor.open(endpoint.protocol(), error);
  if (!error) acceptor.set_option(asio::socket_base::reuse_address(true), error);
  if (!error && address.is_v6()) acceptor.set_option(asio::ip::v6_only(true), error);
  if (!error) acceptor.bind(endpoint, error);
  if (!error) acceptor.listen(asio::socket_base::max_listen_connections, error);
  if (error)
    return Error{ErrorKind::io, "cannot listen at " + host_form(at.address) + ":" + std::to_string(at.port) + ": " + error.message()};
  return acceptor;
}

Result<UnixListener> UnixListener::open(asio::io_context& io, const std::filesystem::path& path) {
  const auto failed = [&](const std::string& why) { return Error{ErrorKind::io, "cannot listen at " + path.string() + ": " + why}; };
  const std::string lock_path = path.string() + ".lock";
  const int lock = ::open(lock_path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600);
  if (lock < 0) return failed(lock_path + ": " + std::strerror(errno));
  UnixListener out(io, lock, path);
  if (::flock(lock, LOCK_EX | LOCK_NB) != 0) return failed("another daemon listens there");
  struct stat found {};
  if (::lstat(path.c_str(), &found) == 0) {
    if (!S_ISSOCK(found.st_mode)) return failed("there is a file that is no socket");
    ::unlink(path.c_str());
  }
  if (auto status = out.listen(); !status) return failed(status.error().message);
  return out;
}

Status UnixListener::listen() {
  error_code error;
  if (path_.string().size() >= sizeof(sockaddr_un::sun_path)) return Error{ErrorKind::io, "the path is too long for a socket"};
  const asio::local::stream_protocol::endpoint endpoint(path_.string());
  acceptor_.open(endpoint.protocol(), error);
  if (!error) acceptor_.bind(endpoint, error);
  if (error) return Error{ErrorKind::io, error.message()};
  bound_ = true;
  // Nobody can connect before `listen`, so there is no moment with a wider mode.
  if (::chmod(path_.c_str(), 0660) != 0) return Error{ErrorKind::io, std::strerror(errno)};
  acceptor_.listen(asio::socket_base::max_listen_connections, error);
  if (error) return Error{ErrorKind::io, error.message()};
  return Ok{};
}

UnixListener::UnixListener(UnixListener&& other) noexcept
    : acceptor_(std::move(other.acceptor_)),
      lock_(std::exchange(other.lock_, -1)),
      path_(std::move(other.path_)),
      bound_(std::exchange(other.bound_, false)) {}

UnixListener::~UnixListener() {
  if (bound_) ::unlink(path_.c_str());
  if (lock_ >= 0) ::close(lock_);
}

bool is_loopback(const std::string& address) {
  error_code error;
  const auto parsed = asio::ip::make_address(address, error);
  return !error && parsed.is_loopback();
}

std::string host_form(const std::string& address) { return address.find(':') == std::string::npos ? address : "[" + address + "]"; }

}  // namespace midstick::http
