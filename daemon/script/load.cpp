#include "daemon/script/load.hpp"

#include <filesystem>
#include <fstream>
#include <functional>

#include "daemon/script/json_text.hpp"
#include "daemon/script/readers.hpp"

namespace midstick::script {
namespace {

using nlohmann::json;
namespace fs = std::filesystem;

bool is_file(const std::string& path) {
  std::error_code failed;
  return fs::is_regular_file(path, failed);
}

Result<std::string> file_text(const std::string& path) {
  std::error_code failed;
  if (fs::is_directory(path, failed)) return Error{ErrorKind::bad_file, path + ": found a folder; expected a file"};
  if (!is_file(path)) return Error{ErrorKind::bad_file, path + ": found no such file; expected a file that can be read"};
  std::ifstream in(path, std::ios::binary);
  std::string text(kMaxFileBytes + 1, '\0');  // one byte more than allowed: parse_json then refuses
  if (!in) return Error{ErrorKind::bad_file, path + ": found a file that cannot be opened; expected one that can be read"};
  in.read(text.data(), static_cast<std::streamsize>(text.size()));
  if (in.bad()) return Error{ErrorKind::bad_file, path + ": found a file that cannot be read; expected one that can"};
  text.resize(static_cast<std::size_t>(in.gcount()));
  return text;
}

Result<Source> load_source(const std::string& path, FileKind kind) {
  const auto text = file_text(path);
  if (!text) return text.error();
  auto checked = read_source(*text, path, kind);
  if (!checked) return checked.error();
  return std::move(checked->source);
}

/// The path of `named`, which the file `file` names relative to itself.
std::string beside(const std::string& file, const std::string& named) {
  return (fs::path(file).parent_path() / named).lexically_normal().string();
}

void make_image_absolute(ControllerDescription& controller, const std::string& file) {
  std::error_code failed;
  if (!controller.image.empty()) controller.image = fs::absolute(beside(file, controller.image), failed).lexically_normal().string();
}

/// The file that `by` names at `pointer`.
Result<Source> load_named(const Source& by, const std::string& pointer, FileKind kind) {
  const std::string named = by.value[json::json_pointer(pointer)];
  const std::string path = beside(by.path, named);
  if (!is_file(path)) return by.error(pointer, "found " + shown(named) + ", which is no file; expected a path relative to this file");
  return load_source(path, kind);
}

/// Gives the stick script that a check names at `pointer` of the plan.
using SticksSource = std::function<Result<Source>(const std::string& pointer, const std::string& named)>;

Status add_scripts(Plan& plan, const Source& plan_source, const SticksSource& sticks) {
  const StickSetting setting{plan.spec, plan.controller, plan.frame, plan.seed};
  json& stored = plan.document["sticks"] = json::object();
  for (std::size_t i = 0; i < plan.checks.size(); ++i) {
    const json& entry = plan_source.value["checks"][i];
    if (!entry.contains("script")) continue;
    const std::string named = entry["script"];
    auto source = sticks(child("/checks", i) + "/script", named);
    if (!source) return source.error();
    auto script = read_sticks(*source, &setting);
    if (!script) return script.error();
    plan.checks[i].script = script.take();
    stored[named] = std::move(source->value);
  }
  return Ok{};
}

Result<Plan> assemble(const Source& plan_source, Source mixer_source, const Source& controller_source, const SticksSource& sticks) {
  auto plan = read_plan(plan_source);
  if (!plan) return plan;
  auto spec = read_mixer(mixer_source);
  if (!spec) return spec.error();
  auto controller = read_controller(controller_source);
  if (!controller) return controller.error();
  plan->spec = spec.take();
  plan->controller = controller.take();
  if (const Status match = names_match(*plan, plan_source, mixer_source); !match) return match.error();
  if (const Status fits = frame_fits(*plan, plan_source); !fits) return fits.error();
  plan->document = {{"plan", plan_source.value}, {"mixer", mixer_source.value}, {"controller", controller_source.value}};
  if (const Status added = add_scripts(*plan, plan_source, sticks); !added) return added.error();
  return plan;
}

SticksSource from_files(const Source& plan_source) {
  return [&plan_source](const std::string& pointer, const std::string&) { return load_named(plan_source, pointer, FileKind::sticks); };
}

Result<Source> stored(const json& document, const std::string& key, const std::string& origin, FileKind kind) {
  if (!document.is_object() || !document.contains(key))
    return Error{ErrorKind::bad_file, origin + ": found no \"" + key + "\"; expected a stored plan: plan, mixer, controller, sticks"};
  auto checked = check_value(document[key], origin + " (" + key + ")", kind);
  if (!checked) return checked.error();
  return std::move(checked->source);
}

SticksSource from_document(const json& document, const std::string& origin) {
  return [&document, origin](const std::string&, const std::string& named) {
    return stored(document.value("sticks", json()), named, origin, FileKind::sticks);
  };
}

/// `document` with `mixer_source` in the place of its mixer spec.
Result<Plan> rebuilt(const json& document, const std::string& origin, Source mixer_source) {
  auto plan_source = stored(document, "plan", origin, FileKind::plan);
  if (!plan_source) return plan_source.error();
  auto controller_source = stored(document, "controller", origin, FileKind::controller);
  if (!controller_source) return controller_source.error();
  auto plan = assemble(*plan_source, std::move(mixer_source), *controller_source, from_document(document, origin));
  if (plan) plan->path = origin;
  return plan;
}

/// A plan that names no controller: everything but the names can be checked.
Status check_without_controller(const Source& plan_source) {
  auto plan = read_plan(plan_source);
  if (!plan) return plan.error();
  auto mixer_source = load_named(plan_source, "/mixer", FileKind::mixer);
  if (!mixer_source) return mixer_source.error();
  if (const auto spec = read_mixer(*mixer_source); !spec) return spec.error();
  for (std::size_t i = 0; i < plan->checks.size(); ++i) {
    if (!plan_source.value["checks"][i].contains("script")) continue;
    const auto source = load_named(plan_source, child("/checks", i) + "/script", FileKind::sticks);
    if (!source) return source.error();
    if (const auto script = read_sticks(*source, nullptr); !script) return script.error();
  }
  return Ok{};
}

/// `plan` with another value for a member of its file.
Result<Plan> with_member(const Plan& plan, const char* member, const json& value) {
  json document = plan.document;
  document["plan"][member] = value;
  auto out = plan_from_document(document, plan.path);
  if (out) out->controller.image = plan.controller.image;
  return out;
}

Status check_image(const Source& source) {
  const std::string image = source.value.value("image", "");
  if (image.empty() || is_file(beside(source.path, image))) return Ok{};
  return source.error("/image", "found " + shown(image) + ", which is no file; expected a program image, path relative to this file");
}

/// The part of validate_file that depends on the kind.
Status check_meaning(FileKind kind, Source source) {
  switch (kind) {
    case FileKind::controller: {
      if (const auto controller = read_controller(source); !controller) return controller.error();
      return check_image(source);
    }
    case FileKind::mixer: {
      if (const auto spec = read_mixer(source); !spec) return spec.error();
      return Ok{};
    }
    case FileKind::sticks: {
      if (const auto script = read_sticks(source, nullptr); !script) return script.error();
      return Ok{};
    }
    case FileKind::daemon:
      return Ok{};  // the rest is said where it is read: daemon/service/config.hpp
    default:
      break;
  }
  if (!source.value.contains("controller")) return check_without_controller(source);
  if (const auto plan = load_plan(source.path); !plan) return plan.error();
  const auto controller = load_named(source, "/controller", FileKind::controller);
  return controller ? check_image(*controller) : controller.error();
}

}  // namespace

Result<ControllerDescription> load_controller(const std::string& path) {
  const auto source = load_source(path, FileKind::controller);
  if (!source) return source.error();
  auto controller = read_controller(*source);
  if (controller) make_image_absolute(*controller, path);
  return controller;
}

Result<mixer::MixerSpec> load_mixer(const std::string& path) {
  auto source = load_source(path, FileKind::mixer);
  if (!source) return source.error();
  return read_mixer(*source);
}

Result<StickScript> load_sticks(const std::string& path, const StickSetting& setting) {
  const auto source = load_source(path, FileKind::sticks);
  if (!source) return source.error();
  return read_sticks(*source, &setting);
}

Result<Plan> load_plan(const std::string& path, const std::optional<std::string>& controller, const std::optional<std::string>& mixer) {
  const auto source = load_source(path, FileKind::plan);
  if (!source) return source.error();
  if (!controller && !source->value.contains("controller"))
    return source->error("", "found no \"controller\"; expected one here or on the command line");
  auto mixer_source = mixer ? load_source(*mixer, FileKind::mixer) : load_named(*source, "/mixer", FileKind::mixer);
  if (!mixer_source) return mixer_source.error();
  const auto controller_source =
      controller ? load_source(*controller, FileKind::controller) : load_named(*source, "/controller", FileKind::controller);
  if (!controller_source) return controller_source.error();
  auto plan = assemble(*source, mixer_source.take(), *controller_source, from_files(*source));
  if (plan) make_image_absolute(plan->controller, controller_source->path);
  return plan;
}

Result<Plan> plan_from_document(const json& document, const std::string& origin) {
  auto mixer_source = stored(document, "mixer", origin, FileKind::mixer);
  if (!mixer_source) return mixer_source.error();
  return rebuilt(document, origin, mixer_source.take());
}

Result<Plan> with_mixer(const Plan& plan, const std::string& mixer) {
  auto mixer_source = load_source(mixer, FileKind::mixer);
  if (!mixer_source) return mixer_source.error();
  auto out = rebuilt(plan.document, plan.path, mixer_source.take());
  if (out) out->controller.image = plan.controller.image;
  return out;
}

Result<Plan> with_seed(const Plan& plan, std::uint64_t seed) {
  if (seed > 0xFFFFFFFFu) return Error{ErrorKind::usage, "found the seed " + std::to_string(seed) + "; expected at most 4294967295"};
  return with_member(plan, "seed", seed);
}

Result<Plan> with_only(const Plan& plan, const std::vector<std::string>& checks) { return with_member(plan, "only", checks); }

Result<Validated> validate_file(const std::string& path) {
  const auto text = file_text(path);
  if (!text) return text.error();
  auto checked = read_source(*text, path);
  if (!checked) return checked.error();
  const Validated answer{checked->kind, checked->source.value["name"]};
  if (const Status meaning = check_meaning(checked->kind, std::move(checked->source)); !meaning) return meaning.error();
  return answer;
}

}  // namespace midstick::script
