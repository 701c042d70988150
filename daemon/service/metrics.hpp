// The daemon's numbers for a Prometheus server: text exposition format, written by prometheus-cpp. io thread only.
#pragma once

#include <memory>
#include <string>

#include "daemon/store/records.hpp"

namespace midstick::service {

class Metrics {
 public:
  Metrics();
  ~Metrics();

  void finished(const store::RunRow& run);
  void bench(const std::string& name, const std::string& state);  ///< missing, ready, running, stopping
  void forget_bench(const std::string& name);
  void queued(std::size_t jobs);
  void database(bool ready, std::size_t unsaved);
  void disk_free(std::int64_t bytes);
  void live_clients(std::size_t connected, std::uint64_t dropped);

  std::string text() const;

 private:
  struct Families;
  std::unique_ptr<Families> families_;
};

}  // namespace midstick::service
