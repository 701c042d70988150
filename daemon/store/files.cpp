#include "daemon/store/files.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <fstream>
#include <sstream>

namespace midstick::store {
namespace {

namespace fs = std::filesystem;

Error io_error(const fs::path& path, const char* what) {
  return {ErrorKind::io, path.string() + ": " + what + ": " + std::strerror(errno)};
}

/// File descriptor that closes itself.
class Descriptor {
 public:
  explicit Descriptor(int fd) : fd_(fd) {}
  ~Descriptor() {
    if (fd_ >= 0) ::close(fd_);
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  int get() const { return fd_; }

 private:
  int fd_;
};

bool write_all(int fd, std::string_view content) {
  while (!content.empty()) {
    const ssize_t n = ::write(fd, content.data(), content.size());
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return false;
    content.remove_prefix(static_cast<std::size_t>(n));
  }
  return true;
}

}  // namespace

Status sync_folder(const fs::path& folder) {
  const Descriptor fd(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (fd.get() < 0 || ::fsync(fd.get()) != 0) return io_error(folder, "cannot sync the folder");
  return Ok{};
}

Status replace_file(const fs::path& path, std::string_view content) {
  const fs::path temporary = path.parent_path() / ("." + path.filename().string() + ".writing");
  {
    const Descriptor fd(::open(temporary.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644));
    if (fd.get() < 0) return io_error(temporary, "cannot create");
    if (!write_all(fd.get(), content) || ::fsync(fd.get()) != 0) return io_error(temporary, "cannot write");
  }
  if (::rename(temporary.c_str(), path.c_str()) != 0) return io_error(path, "cannot replace");
  return sync_folder(path.has_parent_path() ? path.parent_path() : fs::path("."));
}

Result<std::string> read_file(const fs::path& path, std::size_t limit) {
  std::error_code error;
  const auto size = fs::file_size(path, error);
  if (error) return Error{ErrorKind::bad_file, path.string() + ": cannot be read: " + error.message()};
  if (size > limit)
    return Error{ErrorKind::bad_file,
                 path.string() + ": is " + std::to_string(size) + " bytes long; expected at most " + std::to_string(limit)};
  std::ifstream in(path, std::ios::binary);
  std::ostringstream content;
  content << in.rdbuf();
  if (!in) return Error{ErrorKind::bad_file, path.string() + ": cannot be read"};
  return std::move(content).str();
}

}  // namespace midstick::store
