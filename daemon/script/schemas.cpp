#include "daemon/script/schemas.hpp"

namespace midstick::script {

std::string_view name(FileKind kind) {
  switch (kind) {
    case FileKind::controller:
      return "controller";
    case FileKind::mixer:
      return "mixer";
    case FileKind::sticks:
      return "sticks";
    case FileKind::daemon:
      return "daemon";
    default:
      return "plan";
  }
}

std::string_view format(FileKind kind) {
  switch (kind) {
    case FileKind::controller:
      return "midstick controller 1";
    case FileKind::mixer:
      return "midstick mixer 1";
    case FileKind::sticks:
      return "midstick sticks 1";
    case FileKind::daemon:
      return "midstick daemon 1";
    default:
      return "midstick plan 1";
  }
}

std::string_view schema_text(FileKind kind) {
  switch (kind) {
    case FileKind::controller:
      return embedded::controller;
    case FileKind::mixer:
      return embedded::mixer;
    case FileKind::sticks:
      return embedded::sticks;
    case FileKind::daemon:
      return embedded::daemon;
    default:
      return embedded::plan;
  }
}

std::optional<FileKind> kind_of_format(std::string_view text) {
  for (const FileKind kind : kFileKinds)
    if (text == format(kind)) return kind;
  return std::nullopt;
}

}  // namespace midstick::script
