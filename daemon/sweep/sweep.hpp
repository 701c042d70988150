// The whole job of `midstick sweep`: a bench in, a folder with a map out.
//
// Order: read every file, open the bench, greet, measure the clock, make the folder; only then power and pulses (a controller), or prompts
// (a receiver, which powers nothing). The folder holds capture.json, run.json (store/run_folder) and map.json, map.csv, map.h, map.html; of
// a controller with two inputs and two outputs mixer.json as well, where a spec was found. Single-threaded; blocks. Error: nothing is
// powered any more, and no map was written.
#pragma once

#include <atomic>
#include <filesystem>
#include <functional>
#include <optional>
#include <string>

#include "daemon/engine/open_bench.hpp"
#include "daemon/sweep/map.hpp"
#include "daemon/sweep/play.hpp"
#include "daemon/sweep/receiver_map.hpp"

namespace midstick::sweep {

struct Request {
  std::string bench;
  std::string controller;     ///< path of the description; may be empty on a virtual bench, which knows
  std::filesystem::path out;  ///< folder to make
  Settings settings;
  std::uint64_t seed{1};
  double seconds{60};  ///< of a receiver's sweep, 20..600
  engine::VirtualConditions conditions;
  std::function<void(const Progress&)> on_progress;
  std::function<void(const std::string&)> on_notice;  ///< cautions and prompts, for a person
};

struct Swept {
  Map map;
  std::string mixer;  ///< how the mixer spec came about, or why there is none; one sentence
};

Result<Swept> sweep(const Request& request, const std::atomic<bool>& stop);
Result<ReceiverMap> sweep_receiver(const Request& request, const std::atomic<bool>& stop);

}  // namespace midstick::sweep
