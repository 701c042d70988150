#include "daemon/service/benches.hpp"

#include <algorithm>
#include <filesystem>
#include <utility>

#include "daemon/link/serial_port.hpp"

namespace midstick::service {
namespace {

bool same(const BenchConfig& a, const BenchConfig& b) {
  return a.name == b.name && a.address == b.address && a.labels == b.labels && a.board == b.board &&
         a.conditions.seed == b.conditions.seed && a.conditions.board_ppm == b.conditions.board_ppm &&
         a.conditions.controller_ppm == b.conditions.controller_ppm;
}

std::string port_of(const BenchConfig& config, const std::vector<std::pair<std::string, std::string>>& ports) {
  if (config.is_virtual()) return config.address;
  if (config.address.starts_with("serial:")) {
    std::error_code ignored;
    return std::filesystem::exists(config.address.substr(7), ignored) ? config.address : "";
  }
  const auto same_letters = [](char a, char b) {
    return std::tolower(static_cast<unsigned char>(a)) == std::tolower(static_cast<unsigned char>(b));
  };
  for (const auto& [identity, path] : ports)
    if (std::ranges::equal(identity, config.address, same_letters)) return "serial:" + path;
  return "";
}

}  // namespace

void Benches::configure(const std::vector<BenchConfig>& configs) {
  std::vector<std::shared_ptr<Bench>> next;
  for (const BenchConfig& c : configs) {
    auto old = find(c.name);
    next.push_back(old && (old->busy() || same(old->config, c)) ? old : std::make_shared<Bench>(c));
    if (old) next.back()->held = old->held;
  }
  for (const auto& b : benches_)
    if (b->busy() && std::ranges::find(next, b) == next.end()) next.push_back(b);
  benches_ = std::move(next);
}

bool Benches::look(const std::vector<std::pair<std::string, std::string>>& ports) {
  bool changed = false;
  for (const auto& b : benches_) {
    if (b->busy()) continue;  // whoever plays on it will say when it goes
    const std::string port = port_of(b->config, ports);
    changed = changed || b->present == port.empty() || b->port != port;
    b->present = !port.empty();
    b->port = port;
    b->detail = port.empty() ? "no port with the address " + b->config.address : "";
  }
  return changed;
}

std::shared_ptr<Bench> Benches::find(const std::string& name) const {
  const auto at = std::ranges::find_if(benches_, [&](const auto& b) { return b->config.name == name; });
  return at == benches_.end() ? nullptr : *at;
}

std::vector<BenchView> Benches::views() const {
  std::vector<BenchView> out;
  for (const auto& b : benches_) out.push_back({b->config.name, b->config.labels, b->present, b->busy(), !b->held.empty()});
  return out;
}

bool Benches::stop(const std::string& name) {
  const auto bench = find(name);
  if (!bench || !bench->busy()) return false;
  bench->stop = true;
  return true;
}

bool Benches::release(const std::string& name) {
  const auto bench = find(name);
  return bench && !std::exchange(bench->held, "").empty();
}

std::vector<std::pair<std::string, std::string>> serial_ports() {
  std::vector<std::pair<std::string, std::string>> out;
  for (const auto& p : link::list_ports())
    if (!p.identity.empty()) out.emplace_back(p.identity, p.path);
  return out;
}

}  // namespace midstick::service
