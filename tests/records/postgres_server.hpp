// A real PostgreSQL of the test's own: Debian's server programs, a data folder and a Unix socket in a temporary folder, no TCP. Runs as the
// user "postgres" when the test runs as root, which the server refuses. Ends with the test, however that ends.
#pragma once

#include <sys/types.h>

#include <filesystem>
#include <string>

namespace midstick::records_test {

class PostgresServer {
 public:
  /// Made and started at first use, stopped and removed at the end of the process. Aborts with a reason when it cannot be.
  static PostgresServer& the();

  void start();  ///< returns when it takes connections
  void stop();   ///< as an administrator does: sessions are thrown out

  /// Connection string of a database that did not exist before.
  std::string fresh_database();

  PostgresServer(const PostgresServer&) = delete;
  PostgresServer& operator=(const PostgresServer&) = delete;
  ~PostgresServer();

 private:
  PostgresServer();
  std::string connection(const std::string& database) const;

  std::filesystem::path folder_;
  pid_t owner_{0};
  pid_t server_{0};
  int notified_{-1};  ///< the server says on it when it is ready
  int databases_{0};
};

}  // namespace midstick::records_test
