// Which job begins on which bench, and why one waits. Pure.
//
// Jobs come best first (priority, then age). Each takes the first bench, in the configuration's order, that is ready and that it may use:
// the one it names, or any that has all its labels. A job that waits does not hold up those behind it.
#pragma once

#include <string>
#include <vector>

#include "daemon/store/records.hpp"

namespace midstick::service {

struct BenchView {
  std::string name;
  std::vector<std::string> labels;
  bool present{true};  ///< there and willing
  bool busy{false};
  bool held{false};  ///< its stop loop opened; a person must release it
};

struct Assignment {
  std::int64_t job{0};
  std::string bench;
};

std::vector<Assignment> dispatch(const std::vector<store::Job>& queue, std::vector<BenchView> benches);

/// For a person: "bench virtual-bench runs another job". Empty when nothing keeps it from beginning.
std::string waits_for(const store::JobRequest& job, const std::vector<BenchView>& benches);

}  // namespace midstick::service
