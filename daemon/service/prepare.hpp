// Runs a controller's prepare command: program and arguments, no shell, in its own process group, all it prints into a log file.
//
// Blocks until it ends, its time is over or `stop` is set (then the whole group is killed). Error{bench_unfit}: it could not be started,
// ended with another code than 0, or took too long; the message names the log. Call from a bench's own thread.
#pragma once

#include <atomic>
#include <filesystem>
#include <map>
#include <string>

#include "daemon/core/result.hpp"
#include "daemon/service/config.hpp"

namespace midstick::service {

/// `words`: what {bench}, {build} and {port} stand for.
Status prepare(const PrepareConfig& config, const std::map<std::string, std::string>& words, const std::filesystem::path& log,
               const std::atomic<bool>& stop);

}  // namespace midstick::service
