#include "daemon/store/run_folder.hpp"

#include <unistd.h>

#include <nlohmann/json.hpp>

#include "daemon/store/capture_file.hpp"
#include "daemon/store/files.hpp"
#include "daemon/store/packed_file.hpp"

namespace midstick::store {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr std::size_t kMaxRunFile = std::size_t{1} << 31;
constexpr const char* kFormat = "midstick run 1";

std::string run_json(const std::string& about, const char* state) {
  json j = json::parse(about);
  j["format"] = kFormat;
  j["state"] = state;
  return j.dump(2) + "\n";
}

Error io_error(const fs::path& path, const std::string& what) { return {ErrorKind::io, path.string() + ": " + what}; }

}  // namespace

Result<RunFolder> RunFolder::create(const fs::path& path, const json& about) {
  std::error_code error;
  if (fs::exists(path, error)) {
    if (!fs::is_directory(path, error) || !fs::is_empty(path, error))
      return Error{ErrorKind::usage, path.string() + ": already exists; expected a new or an empty folder for the run"};
  }
  const fs::path parent = path.has_parent_path() ? path.parent_path() : fs::path(".");
  fs::create_directories(parent, error);
  if (error) return io_error(parent, "cannot be created: " + error.message());

  // Built beside its place, so that the run is never seen without its state.
  const fs::path building = parent / ("." + path.filename().string() + "." + std::to_string(::getpid()) + ".new");
  fs::remove_all(building, error);
  if (!fs::create_directory(building, error)) return io_error(building, "cannot be created: " + error.message());
  RunFolder folder(path, about.dump(-1, ' ', false, json::error_handler_t::replace));  // a path need not be UTF-8
  if (auto s = replace_file(building / "run.json", run_json(folder.about_, "incomplete")); !s) return s.error();
  fs::rename(building, path, error);  // replaces an empty folder, refuses any other
  if (error) {
    const std::string why = error.message();
    fs::remove_all(building, error);
    return io_error(path, "cannot be created: " + why);
  }
  if (auto s = sync_folder(parent); !s) return s.error();
  return folder;
}

Status RunFolder::write_plan(const json& document) const {
  return replace_file(path_ / "plan.json", document.dump(1, ' ', false, json::error_handler_t::replace) + "\n");
}

Status RunFolder::write_capture(const capture::Capture& capture) const {
  return replace_file(path_ / "capture.json", capture_to_json(capture));
}

Status RunFolder::complete() const { return replace_file(path_ / "run.json", run_json(about_, "complete")); }

Result<StoredRun> read_run(const fs::path& path) try {
  auto about = read_file(path / "run.json", kMaxRunFile);
  if (!about) return Error{ErrorKind::bad_file, path.string() + ": is not a run folder (no readable run.json in it)"};
  StoredRun run;
  run.about = about.take();
  const json state = json::parse(run.about);
  if (state.at("format") != kFormat)
    return Error{ErrorKind::bad_file, (path / "run.json").string() + ": /format is not \"" + kFormat + "\""};
  run.complete = state.at("state") == "complete";
  auto plan = read_file(path / "plan.json", kMaxRunFile);
  auto capture_text = read_packed_file(path / "capture.json", kMaxRunFile);
  if (!plan || !capture_text) {
    if (!run.complete)
      return Error{ErrorKind::bad_file, path.string() + ": the run was cut short before anything was captured; nothing to judge"};
    return (!plan ? plan : capture_text).error();
  }
  run.plan = plan.take();
  auto capture = capture_from_json(capture_text.value(), (path / "capture.json").string());
  if (!capture) return capture.error();
  run.capture = capture.take();
  return run;
} catch (const json::exception& e) {
  return Error{ErrorKind::bad_file, (path / "run.json").string() + ": " + e.what()};
}

}  // namespace midstick::store
