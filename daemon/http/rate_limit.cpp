#include "daemon/http/rate_limit.hpp"

#include <algorithm>
#include <cmath>

namespace midstick::http {

double RateLimit::level(const Bucket& bucket, Instant now) const {
  const double seconds = std::chrono::duration<double>(now - bucket.at).count();
  return std::min(burst_, bucket.level + std::max(0.0, seconds) * per_second_);
}

std::optional<int> RateLimit::take(const std::string& client, Instant now) {
  Bucket& bucket = buckets_.try_emplace(client, Bucket{burst_, now}).first->second;
  bucket = {level(bucket, now), now};
  if (bucket.level < 1) return std::max(1, static_cast<int>(std::ceil((1 - bucket.level) / per_second_)));
  bucket.level -= 1;
  return std::nullopt;
}

void RateLimit::sweep(Instant now) {
  std::erase_if(buckets_, [&](const auto& entry) { return level(entry.second, now) >= burst_; });
}

}  // namespace midstick::http
