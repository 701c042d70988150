// The file kinds and their JSON Schemas, as built into the program (source: daemon/script/schema/*.schema.json).
//
// A file says its kind by its "format" member, for instance "midstick plan 1". Constants only: no threads, no failure.
#pragma once

#include <array>
#include <optional>
#include <string_view>

namespace midstick::script {

enum class FileKind { controller, mixer, sticks, plan, daemon };
inline constexpr std::array kFileKinds{FileKind::controller, FileKind::mixer, FileKind::sticks, FileKind::plan, FileKind::daemon};

/// "controller", "mixer", "sticks", "plan", "daemon".
std::string_view name(FileKind kind);
/// What the file's "format" member must be.
std::string_view format(FileKind kind);
/// The schema file's text.
std::string_view schema_text(FileKind kind);
/// The kind with this "format"; nothing when there is none.
std::optional<FileKind> kind_of_format(std::string_view format);

namespace embedded {
extern const char* const controller;
extern const char* const mixer;
extern const char* const sticks;
extern const char* const plan;
extern const char* const daemon;
}  // namespace embedded

}  // namespace midstick::script
