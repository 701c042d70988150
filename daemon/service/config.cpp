#include "daemon/service/config.hpp"

#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>

#include "daemon/script/readers.hpp"
#include "daemon/store/files.hpp"
#include "daemon/store/records.hpp"

namespace midstick::service {
namespace {

using nlohmann::json;
namespace fs = std::filesystem;
using script::child;
using script::shown;

fs::path beside(const fs::path& file, const std::string& named) {
  std::error_code ignored;
  return fs::absolute(file.parent_path() / named, ignored).lexically_normal();
}

template <class T>
const T* find(const std::vector<T>& all, const std::string& name) {
  const auto at = std::ranges::find(all, name, &T::name);
  return at == all.end() ? nullptr : &*at;
}

/// Reads one file; every step may find what the schema cannot say.
class Reader {
 public:
  Reader(const script::Source& source, fs::path file) : source_(source), value_(source.value), file_(std::move(file)) {}

  Result<Config> read() {
    config_.name = value_["name"];
    config_.file = file_;
    config_.keep = beside(file_, value_["keep"]);
    config_.database = value_["database"];
    for (auto step : {&Reader::listen, &Reader::benches, &Reader::controllers, &Reader::plans, &Reader::nights, &Reader::rest})
      if (auto s = (this->*step)(); !s) return s.error();
    return std::move(config_);
  }

 private:
  /// Every entry of `list`, by `each`; names in it are unique.
  template <class Each>
  Status entries(const std::string& list, Each each) {
    std::set<std::string> names;
    for (std::size_t i = 0; i < value_[list].size(); ++i) {
      const std::string place = child("/" + list, i);
      const std::string name = value_[list][i]["name"];
      if (!names.insert(name).second)
        return source_.error(place + "/name", "found " + shown(name) + " a second time; expected another name");
      if (auto s = each(value_[list][i], place); !s) return s;
    }
    return Ok{};
  }

  /// `name`, found at `place`, must be one of the entries of `list`.
  template <class T>
  Status known(const std::vector<T>& all, const std::string& name, const std::string& place, const std::string& list) {
    if (find(all, name)) return Ok{};
    std::string names;
    for (const T& t : all) names += (names.empty() ? "" : ", ") + t.name;
    return source_.error(place, "found " + shown(name) + "; expected a name of " + list + ": " + names);
  }

  Status listen() {
    const json& l = value_["listen"];
    config_.listen.address = l["address"];
    config_.listen.port = l["port"];
    config_.listen.names = l["names"].get<std::vector<std::string>>();
    const std::string socket = l["socket"], tokens = l["tokens"];
    config_.listen.socket = socket.empty() ? config_.keep / "midstick.sock" : beside(file_, socket);
    if (!tokens.empty()) config_.listen.tokens = beside(file_, tokens);
    return Ok{};
  }

  Status benches() {
    std::set<std::string> addresses;
    return entries("benches", [&](const json& b, const std::string& place) -> Status {
      BenchConfig bench{b["name"], b["address"], b["labels"].get<std::vector<std::string>>(), b["board"], {}};
      bench.conditions.seed = b["seed"];
      bench.conditions.board_ppm = b["board_ppm"];
      bench.conditions.controller_ppm = b["controller_ppm"];
      if (bench.is_virtual()) {
        const fs::path controller = beside(file_, bench.address.substr(std::string("virtual:").size()));
        if (auto c = script::load_controller(controller.string()); !c)
          return source_.error(place + "/address", "the controller cannot be used: " + c.error().message);
        bench.address = "virtual:" + controller.string();
      } else if (!addresses.insert(bench.address).second) {
        return source_.error(place + "/address", "found " + shown(bench.address) + " a second time; expected one bench a board");
      }
      config_.benches.push_back(std::move(bench));
      return Ok{};
    });
  }

  Status controllers() {
    return entries("controllers", [&](const json& c, const std::string&) -> Status {
      ControllerConfig controller{c["name"], std::nullopt};
      if (c.contains("prepare")) {
        const json& p = c["prepare"];
        controller.prepare = PrepareConfig{p["command"].get<std::vector<std::string>>(), beside(file_, p["folder"]), p["limit_s"]};
      }
      config_.controllers.push_back(std::move(controller));
      return Ok{};
    });
  }

  Status plans() {
    return entries("plans", [&](const json& p, const std::string& place) -> Status {
      PlanConfig plan{p["name"], beside(file_, p["file"]), p["controller"]};
      if (auto s = known(config_.controllers, plan.controller, place + "/controller", "controllers"); !s) return s;
      if (auto valid = script::validate_file(plan.file.string()); !valid)
        return source_.error(place + "/file", "the plan cannot be used: " + valid.error().message);
      config_.plans.push_back(std::move(plan));
      return Ok{};
    });
  }

  Status nights() {
    return entries("nights", [&](const json& n, const std::string& place) -> Status {
      NightConfig night{n["name"], n["plan"], n["bench"], n["build"], n["labels"].get<std::vector<std::string>>(), {}, n["zone"]};
      night.at = *parse_local_time(n["at"].get<std::string>());  // the schema holds its form
      night.priority = n["priority"], night.tries = n["tries"], night.within_h = n["within_h"];
      if (auto s = known(config_.plans, night.plan, place + "/plan", "plans"); !s) return s;
      if (!night.bench.empty())
        if (auto s = known(config_.benches, night.bench, place + "/bench", "benches"); !s) return s;
      if (night.zone.empty()) night.zone = own_zone();
      if (!known_zone(night.zone))
        return source_.error(place + "/zone", "found " + shown(night.zone) + "; expected an IANA time zone such as Europe/Berlin");
      config_.nights.push_back(std::move(night));
      return Ok{};
    });
  }

  Status rest() {
    constexpr std::int64_t kMegabyte = 1'000'000;
    config_.retention = {value_["retention"]["days"], value_["retention"]["megabytes"].get<std::int64_t>() * kMegabyte};
    for (const json& w : value_["webhooks"]) config_.webhooks.push_back({w["url"], w["on"].get<std::vector<std::string>>(), w["tries"]});
    config_.log.level = value_["log"]["level"];
    config_.log.bytes = value_["log"]["megabytes"].get<std::size_t>() * kMegabyte;
    config_.log.files = value_["log"]["files"];
    return Ok{};
  }

  const script::Source& source_;
  const json& value_;
  fs::path file_;
  Config config_;
};

}  // namespace

const BenchConfig* Config::bench(const std::string& name) const { return find(benches, name); }
const ControllerConfig* Config::controller(const std::string& name) const { return find(controllers, name); }
const PlanConfig* Config::plan(const std::string& name) const { return find(plans, name); }

std::optional<std::string> Config::lacks(const store::JobRequest& job) const {
  const auto gone = [](const char* what, const std::string& name) {
    return std::string(what) + " \"" + name + "\" is not in the configuration any more";
  };
  if (!plan(job.plan)) return gone("plan", job.plan);
  if (!controller(job.controller)) return gone("controller", job.controller);
  if (!job.bench.empty() && !bench(job.bench)) return gone("bench", job.bench);
  return std::nullopt;
}

Result<Config> config_from_text(std::string_view text, const fs::path& file) {
  auto checked = script::read_source(text, file.string(), script::FileKind::daemon);
  if (!checked) return checked.error();
  return Reader(checked->source, file).read();
}

Result<Config> read_config(const fs::path& file) {
  auto text = store::read_file(file, 1 << 20);
  if (!text) return text.error();
  return config_from_text(text.value(), file);
}

Config demo_config(const fs::path& mower, const fs::path& keep) {
  Config config;
  config.name = "demo";
  config.keep = keep;
  config.database = "sqlite";
  config.listen.socket = keep / "midstick.sock";
  config.benches.push_back({"virtual-bench", "virtual:" + (mower / "controller.json").string(), {"mower"}, "", {}});
  config.controllers.push_back({"bank-mower", std::nullopt});
  config.plans.push_back({"nightly", mower / "nightly.json", "bank-mower"});
  config.retention.bytes = 20'000'000'000;
  NightConfig night;
  night.name = "nightly", night.plan = "nightly", night.at = {2, 30}, night.zone = own_zone();
  config.nights.push_back(std::move(night));
  return config;
}

}  // namespace midstick::service
