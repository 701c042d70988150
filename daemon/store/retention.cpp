#include "daemon/store/retention.hpp"

#include "daemon/store/files.hpp"

namespace midstick::store {
namespace {

namespace fs = std::filesystem;

constexpr UnixMs kDay = 24 * 3'600'000;

/// Every name that evidence has, and what a kill leaves while one is written.
constexpr const char* kEvidence[] = {"capture.json",         "capture.json.zst",        "capture.vcd",
                                     "capture.vcd.zst",      ".capture.json.writing",   ".capture.json.zst.writing",
                                     ".capture.vcd.writing", ".capture.vcd.zst.writing"};

Status delete_evidence(const fs::path& runs, const fs::path& folder) {
  std::error_code failed;
  // A disk that is not mounted has lost nothing, and what it holds must not be noted as dropped.
  if (!fs::is_directory(runs, failed)) return Error{ErrorKind::io, runs.string() + ": is not there; expected the folder of the runs"};
  const bool there = fs::exists(folder, failed);
  if (failed) return Error{ErrorKind::io, folder.string() + ": cannot be looked into: " + failed.message()};
  if (!there) return Ok{};  // a person took it away
  for (const char* name : kEvidence) {
    fs::remove(folder / name, failed);
    if (failed) return Error{ErrorKind::io, (folder / name).string() + ": cannot be removed: " + failed.message()};
  }
  fs::remove(runs.parent_path() / "logs" / ("prepare-" + folder.filename().string() + ".log"), failed);  // as long as a build likes to talk
  return sync_folder(folder);
}

bool is_old(const RunRow& run, const KeepRules& rules, UnixMs now) {
  return rules.days > 0 && run.ended.value_or(run.began) < now - rules.days * kDay;
}

}  // namespace

std::int64_t folder_bytes(const fs::path& run_folder) {
  std::int64_t sum = 0;
  std::error_code failed;
  for (fs::recursive_directory_iterator at(run_folder, failed), end; !failed && at != end; at.increment(failed)) {
    std::error_code none;
    const auto size = at->is_regular_file(none) ? at->file_size(none) : 0;
    if (!none) sum += static_cast<std::int64_t>(size);
  }
  return sum;
}

Result<Kept> keep_within(Records& records, const fs::path& runs, const KeepRules& rules, UnixMs now) {
  Kept kept;
  const auto bytes = records.bytes_kept();
  if (!bytes) return bytes.error();
  kept.bytes = *bytes;
  const auto droppable = records.droppable();
  if (!droppable) return droppable.error();
  const auto too_much = [&] { return rules.bytes > 0 && kept.bytes > rules.bytes; };
  for (const RunRow& run : *droppable) {
    if (!is_old(run, rules, now) && !too_much()) break;
    const fs::path folder = runs / std::to_string(run.id);
    if (auto s = delete_evidence(runs, folder); !s) return s.error();
    const std::int64_t left = folder_bytes(folder);
    if (auto s = records.evidence_dropped(run.id, left); !s) return s.error();
    kept.bytes += left - run.bytes;
    kept.dropped.push_back(run.id);
  }
  kept.over = too_much();
  return kept;
}

}  // namespace midstick::store
