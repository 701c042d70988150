// A token bucket for each client address. Private to this room; server's thread only; time is given.
#pragma once

#include <optional>
#include <string>
#include <unordered_map>

#include "daemon/http/hub.hpp"

namespace midstick::http {

class RateLimit {
 public:
  RateLimit(double per_second, double burst) : per_second_(per_second), burst_(burst) {}

  /// Takes one; or says after how many whole seconds (>= 1) there will be one.
  std::optional<int> take(const std::string& client, Instant now);
  /// Forgets clients whose bucket is full again, so that the table stays small.
  void sweep(Instant now);
  std::size_t size() const { return buckets_.size(); }

 private:
  struct Bucket {
    double level{0};
    Instant at{};
  };
  double level(const Bucket& bucket, Instant now) const;

  double per_second_, burst_;
  std::unordered_map<std::string, Bucket> buckets_;
};

}  // namespace midstick::http
