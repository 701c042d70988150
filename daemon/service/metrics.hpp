// The daemon's numbers for a Prometheus server: text exposition format, written by prometheus-cpp. io thread only.
#pragma once

#include <map>
#include <memory>
#include <string>

#include "daemon/store/records.hpp"

namespace midstick::service {

class Metrics {
 public:
  Metrics();
  ~Metrics();

  void finished(const store::RunRow& run);
  /// Every bench there is, by name: missing, ready, running, stopping. One that is gone since the last call leaves no number behind.
  void benches(const std::map<std::string, std::string>& states);
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
