// Controller description: lines to numbers, pins to port and bit, nothing wired twice.
#include <algorithm>
#include <set>

#include "daemon/script/readers.hpp"

namespace midstick::script {
namespace {

using nlohmann::json;

/// S1..S6 -> 0..5; R1, R2 -> 0, 1; P1..P6 -> 2..7.
std::uint8_t line_number(const std::string& line) {
  const int digit = line[1] - '1';
  return static_cast<std::uint8_t>(line[0] == 'P' ? digit + 2 : digit);
}

ControllerPin read_pin(const json& entry) {
  ControllerPin pin;
  pin.name = entry["name"];
  pin.line = entry["line"];
  pin.line_no = line_number(pin.line);
  if (const std::string where = entry.value("pin", ""); !where.empty()) {
    pin.port = where[1];
    pin.bit = static_cast<std::uint8_t>(where[2] - '0');
  }
  return pin;
}

/// Values that must be used once only, each with the place that used it.
class Once {
 public:
  explicit Once(const Source& source) : source_(source) {}
  std::optional<Error> use(const std::string& pointer, const std::string& what, const std::string& value) {
    if (seen_.insert(what + value).second) return std::nullopt;
    return source_.error(pointer, "found the " + what + " " + shown(value) + " a second time; expected each once");
  }

 private:
  const Source& source_;
  std::set<std::string> seen_;
};

std::optional<Error> check_pins(const Source& source, const std::string& group, Once& once, bool needs_pin) {
  Once names(source);
  for (std::size_t i = 0; i < source.value[group].size(); ++i) {
    const json& entry = source.value[group][i];
    const std::string at = child("/" + group, i);
    if (entry["name"] == "all") return source.error(at + "/name", "found \"all\", which stands for every input; expected another name");
    if (auto error = names.use(at + "/name", "name", entry["name"])) return error;
    if (auto error = once.use(at + "/line", "line", entry["line"])) return error;
    if (entry.contains("pin")) {
      if (auto error = once.use(at + "/pin", "pin", entry["pin"])) return error;
    } else if (needs_pin) {
      return source.error(at, "found no \"pin\", which must be given where the file names an image");
    }
  }
  return std::nullopt;
}

/// `once` knows the lines in use already. A stick script and a plan tell relays from inputs, and from the words that stand for none, by
/// name.
std::optional<Error> check_relays(const Source& source, Once& once) {
  Once names(source);
  const json& file = source.value;
  for (const json& input : file["inputs"]) static_cast<void>(names.use("", "name", input["name"]));
  for (std::size_t i = 0; i < file["relays"].size(); ++i) {
    const json& entry = file["relays"][i];
    const std::string at = child("/relays", i);
    for (const char* word : {"all", "none", "hand", "nobody", "virtual"})
      if (entry["name"] == word)
        return source.error(at + "/name", "found " + shown(word) + ", which stands for something else; expected another name");
    if (auto error = names.use(at + "/name", "name", entry["name"])) return error;
    if (auto error = once.use(at + "/line", "line", entry["line"])) return error;
  }
  return std::nullopt;
}

}  // namespace

Result<ControllerDescription> read_controller(const Source& source) {
  const json& file = source.value;
  if (file.contains("image") != file.contains("chip"))
    return source.error("", file.contains("image") ? "found \"image\" without \"chip\"; expected both or neither"
                                                   : "found \"chip\" without \"image\"; expected both or neither");
  Once once(source);
  for (const std::string group : {"inputs", "outputs"})
    if (auto error = check_pins(source, group, once, file.contains("image"))) return *error;

  if (auto error = check_relays(source, once)) return *error;

  ControllerDescription out;
  out.name = file["name"];
  out.image = file.value("image", "");
  out.chip = file.value("chip", "");
  out.clock_hz = file["clock_hz"];
  out.boot_ms = file["boot_ms"];
  std::ranges::transform(file["inputs"], std::back_inserter(out.inputs), read_pin);
  std::ranges::transform(file["outputs"], std::back_inserter(out.outputs), read_pin);
  for (const json& relay : file["relays"]) out.relays.push_back({relay["name"], relay["line"], line_number(relay["line"])});
  out.serial = file.value("serial", "");
  return out;
}

}  // namespace midstick::script
