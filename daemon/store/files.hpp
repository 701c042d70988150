// Writing files so that a kill at any instant leaves the old content or the new one, never half of it.
//
// replace_file writes a temporary beside the target, syncs it, renames it over the target and syncs the folder. No threads of its own;
// errors are Error{io} naming the path and what the system said.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "daemon/core/result.hpp"

namespace midstick::store {

Status replace_file(const std::filesystem::path& path, std::string_view content);

/// Whole file as bytes. Error{bad_file} when it cannot be read or is over `limit` bytes.
Result<std::string> read_file(const std::filesystem::path& path, std::size_t limit);

/// Make a directory entry (a rename, a new file) durable.
Status sync_folder(const std::filesystem::path& folder);

}  // namespace midstick::store
