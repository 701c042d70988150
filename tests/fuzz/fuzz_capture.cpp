// The reader of stored captures against any bytes: an error or a capture that survives a round trip, never a crash.
#include <cstdlib>
#include <string_view>

#include "daemon/store/capture_file.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  const auto capture = midstick::store::capture_from_json(text, "fuzz");
  if (!capture) {
    if (capture.error().message.empty()) std::abort();
    return 0;
  }
  const auto again = midstick::store::capture_from_json(midstick::store::capture_to_json(capture.value()), "again");
  if (!again || again->response != capture->response || again->stimulus != capture->stimulus) std::abort();
  return 0;
}
