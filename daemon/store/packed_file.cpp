#include "daemon/store/packed_file.hpp"

#include <zstd.h>

#include <memory>
#include <vector>

#include "daemon/store/files.hpp"

namespace midstick::store {
namespace {

namespace fs = std::filesystem;

/// What we pack ourselves; also the bound for a packed file, which is never longer than its content by more than a few bytes.
constexpr std::size_t kMaxFile = std::size_t{1} << 31;
/// zstd's own default: a capture shrinks to about a tenth in well under a second.
constexpr int kLevel = 3;

fs::path packed(const fs::path& path) { return path.string() + ".zst"; }

Result<std::string> compressed(const std::string& content, const fs::path& path) {
  const std::unique_ptr<ZSTD_CCtx, decltype(&ZSTD_freeCCtx)> context(ZSTD_createCCtx(), ZSTD_freeCCtx);
  ZSTD_CCtx_setParameter(context.get(), ZSTD_c_compressionLevel, kLevel);
  ZSTD_CCtx_setParameter(context.get(), ZSTD_c_checksumFlag, 1);
  std::string out(ZSTD_compressBound(content.size()), '\0');
  const std::size_t size = ZSTD_compress2(context.get(), out.data(), out.size(), content.data(), content.size());
  if (ZSTD_isError(size)) return Error{ErrorKind::io, path.string() + ": cannot be packed: " + ZSTD_getErrorName(size)};
  out.resize(size);
  return out;
}

/// In pieces, so that what a damaged file says of its own length does not matter.
Result<std::string> unpacked(const std::string& content, const fs::path& path, std::size_t limit) {
  const std::unique_ptr<ZSTD_DCtx, decltype(&ZSTD_freeDCtx)> context(ZSTD_createDCtx(), ZSTD_freeDCtx);
  std::vector<char> piece(ZSTD_DStreamOutSize());
  std::string out;
  ZSTD_inBuffer in{content.data(), content.size(), 0};
  std::size_t wanted = 1;  // 0 at the end of a frame
  bool filled = false;     // the last piece was, so more may come without more input
  while (in.pos < in.size || (wanted != 0 && filled)) {
    ZSTD_outBuffer to{piece.data(), piece.size(), 0};
    wanted = ZSTD_decompressStream(context.get(), &to, &in);
    if (ZSTD_isError(wanted)) return Error{ErrorKind::bad_file, path.string() + ": is damaged: " + ZSTD_getErrorName(wanted)};
    filled = to.pos == to.size;
    if (out.size() + to.pos > limit)
      return Error{ErrorKind::bad_file, path.string() + ": holds more than " + std::to_string(limit) + " bytes"};
    out.append(piece.data(), to.pos);
  }
  if (wanted != 0) return Error{ErrorKind::bad_file, path.string() + ": is damaged: it ends too early"};
  return out;
}

}  // namespace

Status pack_file(const fs::path& path) {
  std::error_code failed;
  if (!fs::exists(path, failed) && fs::exists(packed(path), failed)) return Ok{};
  const auto content = read_file(path, kMaxFile);
  if (!content) return content.error();
  auto small = compressed(*content, path);
  if (!small) return small.error();
  if (auto s = replace_file(packed(path), *small); !s) return s;
  const auto again = read_file(packed(path), 2 * kMaxFile);
  if (!again) return again.error();
  const auto back = unpacked(*again, packed(path), kMaxFile);
  if (!back) return back.error();
  if (*back != *content)
    return Error{ErrorKind::io, packed(path).string() + ": does not read back as what was packed; the original is kept"};
  if (!fs::remove(path, failed)) return Error{ErrorKind::io, path.string() + ": cannot be removed: " + failed.message()};
  return sync_folder(path.has_parent_path() ? path.parent_path() : fs::path("."));
}

Result<std::string> read_packed_file(const fs::path& path, std::size_t limit) {
  // Not asked for first: it may be packed and gone between question and reading.
  auto plain = read_file(path, limit);
  std::error_code failed;
  if (plain || !fs::exists(packed(path), failed)) return plain;
  const auto content = read_file(packed(path), limit + (limit >> 7) + 1024);
  if (!content) return content.error();
  return unpacked(*content, packed(path), limit);
}

}  // namespace midstick::store
