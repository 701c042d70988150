#include "tests/records/postgres_server.hpp"

#include <fcntl.h>
#include <pwd.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <pqxx/pqxx>
#include <vector>

namespace midstick::records_test {
namespace {

namespace fs = std::filesystem;

void demand(bool met, const std::string& what) {
  if (met) return;
  std::fprintf(stderr, "PostgreSQL for the tests: %s (%s); scripts/setup test installs it\n", what.c_str(), std::strerror(errno));
  std::abort();
}

/// Folder of the newest server that Debian has installed.
fs::path programs() {
  fs::path newest;
  std::error_code none;
  for (const auto& version : fs::directory_iterator("/usr/lib/postgresql", none))
    if (fs::exists(version.path() / "bin" / "initdb")) newest = std::max(newest, version.path() / "bin");
  demand(!newest.empty(), "no server programs in /usr/lib/postgresql");
  return newest;
}

/// Runs a program as somebody who is not root, its output in `log`. The server dies with us.
pid_t spawn(const std::vector<std::string>& command, const fs::path& log, const fs::path& notify) {
  const pid_t child = ::fork();
  if (child != 0) return child;
  const int out = ::open(log.c_str(), O_WRONLY | O_CREAT | O_APPEND, 0644);
  ::dup2(out, 1);
  ::dup2(out, 2);
  if (::geteuid() == 0) {
    const passwd* user = ::getpwnam("postgres");
    if (user == nullptr || ::setgid(user->pw_gid) != 0 || ::setuid(user->pw_uid) != 0) ::_exit(126);
  }
  ::prctl(PR_SET_PDEATHSIG, SIGQUIT);
  ::setenv("NOTIFY_SOCKET", notify.c_str(), 1);
  if (::chdir("/") != 0) ::_exit(126);
  std::vector<char*> arguments;
  for (const auto& word : command) arguments.push_back(const_cast<char*>(word.c_str()));
  arguments.push_back(nullptr);
  ::execv(arguments[0], arguments.data());
  ::_exit(127);
}

}  // namespace

PostgresServer& PostgresServer::the() {
  static PostgresServer server;
  return server;
}

PostgresServer::PostgresServer() : owner_(::getpid()) {
  std::string pattern = (fs::temp_directory_path() / "midstick-postgres-XXXXXX").string();
  demand(::mkdtemp(pattern.data()) != nullptr, "no temporary folder");
  folder_ = pattern;
  if (::geteuid() == 0) {
    const passwd* user = ::getpwnam("postgres");
    demand(user != nullptr, "no user postgres");
    demand(::chown(folder_.c_str(), user->pw_uid, user->pw_gid) == 0, "cannot give the folder away");
  }
  notified_ = ::socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  std::strncpy(address.sun_path, (folder_ / "ready").c_str(), sizeof address.sun_path - 1);
  demand(::bind(notified_, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0, "no socket to hear from the server");
  demand(::chmod(address.sun_path, 0666) == 0, "no socket to hear from the server");
  const timeval patience{60, 0};
  ::setsockopt(notified_, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);

  int status = 0;
  const pid_t init =
      spawn({programs() / "initdb", "-D", folder_ / "data", "-U", "midstick", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync"},
            folder_ / "log", folder_ / "ready");
  ::waitpid(init, &status, 0);
  demand(status == 0, "initdb failed, see " + (folder_ / "log").string());
  start();
}

void PostgresServer::start() {
  // Nobody cuts this server's power, so it need not sync.
  server_ = spawn({programs() / "postgres", "-D", folder_ / "data", "-k", folder_, "-c", "listen_addresses=", "-c", "fsync=off"},
                  folder_ / "log", folder_ / "ready");
  for (;;) {
    char message[512] = {};
    demand(::recv(notified_, message, sizeof message - 1, 0) > 0, "the server does not get ready, see " + (folder_ / "log").string());
    if (std::strstr(message, "READY=1") != nullptr) return;
  }
}

void PostgresServer::stop() {
  if (server_ == 0) return;
  ::kill(server_, SIGINT);
  ::waitpid(server_, nullptr, 0);
  server_ = 0;
}

PostgresServer::~PostgresServer() {
  if (::getpid() != owner_) return;  // a forked child that ends
  stop();
  ::close(notified_);
  std::error_code failed;
  fs::remove_all(folder_, failed);
}

std::string PostgresServer::connection(const std::string& database) const {
  return "host=" + folder_.string() + " user=midstick dbname=" + database;
}

std::string PostgresServer::fresh_database() {
  const std::string name = "t" + std::to_string(++databases_);
  pqxx::connection admin(connection("postgres"));
  pqxx::nontransaction(admin).exec("CREATE DATABASE " + name);
  return connection(name);
}

}  // namespace midstick::records_test
