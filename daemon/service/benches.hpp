// The daemon's benches: which are there, what each plays, and how to stop it.
//
// Lives on the io thread; each bench has one thread of its own on which a run is played (a conversation with a board blocks). A virtual
// bench is always there. A board on a serial port is there while its port is, found by USB identity on whatever port it is plugged into;
// nothing is opened, and so no board is reset, until a job begins. Stopping sets a flag that the playing thread sees within 20 ms; it then
// puts pulses and controller power off before anything else. A bench whose stop loop opened is held: a button lets go again, and nothing
// may begin there because of that. The hold ends when a person releases the bench, or with the daemon.
#pragma once

#include <atomic>
#include <boost/asio/thread_pool.hpp>
#include <memory>
#include <string>
#include <vector>

#include "daemon/service/config.hpp"
#include "daemon/service/dispatch.hpp"

namespace midstick::service {

struct BenchProgress {
  std::string check;
  int segment{0}, segments{0};
  double done_ms{0}, total_ms{0};
};

struct Bench {
  explicit Bench(BenchConfig c) : config(std::move(c)) {}
  BenchConfig config;
  boost::asio::thread_pool thread{1};
  std::atomic<bool> stop{false};

  bool present{false};
  std::string port;             ///< address to open now: "serial:/dev/ttyACM1" or the virtual one; empty: missing
  std::string detail;           ///< why it is missing
  std::int64_t job{0}, run{0};  ///< 0: idle
  std::string held;             ///< why nothing begins on it until a person releases it: its stop loop opened; empty: not held
  BenchProgress progress;
  bool busy() const { return job != 0; }
  const char* state() const {
    if (busy()) return stop ? "stopping" : "running";
    return !held.empty() ? "held" : present ? "ready" : "missing";
  }
};

class Benches {
 public:
  /// Takes over a configuration: what is idle changes now, what plays keeps its old self until it ends (call again then).
  void configure(const std::vector<BenchConfig>& configs);
  /// Looks which ports are there. True when something changed. `ports`: from link::list_ports().
  bool look(const std::vector<std::pair<std::string, std::string>>& identity_and_path);

  std::shared_ptr<Bench> find(const std::string& name) const;
  const std::vector<std::shared_ptr<Bench>>& all() const { return benches_; }
  std::vector<BenchView> views() const;
  /// Asks what plays on it to stop; false when nothing does.
  bool stop(const std::string& name);
  /// A person has looked, and jobs may begin on it again; false when it was not held.
  bool release(const std::string& name);

 private:
  std::vector<std::shared_ptr<Bench>> benches_;
};

/// Every serial port of this machine as (identity, path); blocks for some ms.
std::vector<std::pair<std::string, std::string>> serial_ports();

}  // namespace midstick::service
