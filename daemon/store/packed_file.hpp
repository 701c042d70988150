// A file kept compressed (zstd) under its name with ".zst" added, and read from whichever of the two is there.
//
// A kill at any instant leaves a whole one: the original goes only after its packed copy was written, synced, read back from disk and found
// equal. Files are held in memory whole. Errors are Error{io} when writing, Error{bad_file} when reading.
#pragma once

#include <filesystem>
#include <string>

#include "daemon/core/result.hpp"

namespace midstick::store {

/// PATH becomes PATH.zst. Ok and nothing done when only PATH.zst is there.
Status pack_file(const std::filesystem::path& path);

/// Content of PATH, or of PATH.zst unpacked. Error{bad_file} when neither can be read, the packed one is damaged, or the content is over
/// `limit` bytes.
Result<std::string> read_packed_file(const std::filesystem::path& path, std::size_t limit);

}  // namespace midstick::store
