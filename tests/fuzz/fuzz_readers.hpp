// What must hold for any bytes given to a file reader. A broken rule aborts, which the fuzzer and the replay both see.
#pragma once

#include <cstdio>
#include <cstdlib>
#include <string_view>

#include "daemon/core/result.hpp"

namespace midstick::fuzz {

/// Unlike assert(), kept in every build type.
inline void must(bool holds, const char* rule) {
  if (holds) return;
  std::fprintf(stderr, "broken rule: %s\n", rule);
  std::abort();
}

/// A refusal is always the file's fault, and says where and why.
inline void must_explain(const Error& error, std::string_view path) {
  must(error.kind == ErrorKind::bad_file, "a refusal is a bad_file");
  must(std::string_view(error.message).starts_with(path), "a refusal names the file");
  must(error.message.size() > path.size() + 10, "a refusal says why");
}

inline std::string_view text(const unsigned char* data, std::size_t size) { return {reinterpret_cast<const char*>(data), size}; }

}  // namespace midstick::fuzz
