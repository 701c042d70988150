// The daemon's one configuration file as values. Format "midstick daemon 1"; schema in daemon/script/schema.
//
// Reading checks what the schema cannot say: names that must be unique or must exist, plans that must load, a time zone that must be known.
// Paths come out absolute, seen from the file. Error{bad_file} names file, line, JSON pointer, what was found and what was expected.
// Plain values, no threads.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "daemon/core/result.hpp"
#include "daemon/engine/open_bench.hpp"
#include "daemon/service/nights.hpp"

namespace midstick::store {
struct JobRequest;
}

namespace midstick::service {

struct BenchConfig {
  std::string name, address;  ///< serial:PORT, usb:VENDOR:PRODUCT:SERIAL or virtual:CONTROLLER.json (absolute)
  std::vector<std::string> labels;
  std::string board;  ///< name for its calibration, where its USB port has no serial number
  engine::VirtualConditions conditions;
  bool is_virtual() const { return address.starts_with("virtual:"); }
};

/// What is run before each run of a controller; only ever from the configuration file.
struct PrepareConfig {
  std::vector<std::string> command;  ///< program and arguments; {bench}, {build}, {port} filled in; no shell
  std::filesystem::path folder;
  int limit_s{300};
};

struct ControllerConfig {
  std::string name;
  std::optional<PrepareConfig> prepare;
};

struct PlanConfig {
  std::string name;
  std::filesystem::path file;
  std::string controller;
};

struct NightConfig {
  std::string name, plan, bench, build;
  std::vector<std::string> labels;
  LocalTime at;
  std::string zone;  ///< IANA name; never empty
  int priority{0}, tries{2}, within_h{6};
};

struct WebhookConfig {
  std::string url;
  std::vector<std::string> on;  ///< verdicts
  int tries{5};
};

struct Config {
  std::string name;
  std::filesystem::path file;  ///< empty: the demo
  std::filesystem::path keep;
  std::string database;  ///< "sqlite" or "postgresql:..."
  struct {
    std::string address{"127.0.0.1"};
    std::uint16_t port{7357};
    std::vector<std::string> names;
    std::filesystem::path socket, tokens;  ///< tokens empty: none
  } listen;
  std::vector<BenchConfig> benches;
  std::vector<ControllerConfig> controllers;
  std::vector<PlanConfig> plans;
  std::vector<NightConfig> nights;
  struct {
    int days{180};
    std::int64_t bytes{0};
  } retention;
  std::vector<WebhookConfig> webhooks;
  struct {
    std::string level{"info"};
    std::size_t bytes{5 << 20};
    int files{5};
  } log;

  const BenchConfig* bench(const std::string& name) const;
  const ControllerConfig* controller(const std::string& name) const;
  const PlanConfig* plan(const std::string& name) const;
  /// What a job named that is not here any more, for a person; nothing when all is there.
  std::optional<std::string> lacks(const store::JobRequest& job) const;
};

Result<Config> read_config(const std::filesystem::path& file);
/// From text; `file` names it in errors and is what paths are seen from.
Result<Config> config_from_text(std::string_view text, const std::filesystem::path& file);

/// One virtual bench with the mower demo. `mower`: folder of the demo (controller.json, nightly.json); `keep`: where runs go.
Config demo_config(const std::filesystem::path& mower, const std::filesystem::path& keep);

}  // namespace midstick::service
