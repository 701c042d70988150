#include "daemon/page/page.hpp"

#include <algorithm>

namespace midstick::page {

const Asset* find(std::string_view path) {
  if (path.empty()) path = "index.html";
  const auto all = assets();
  const auto at = std::ranges::lower_bound(all, path, {}, &Asset::path);
  return at != all.end() && at->path == path ? &*at : nullptr;
}

}  // namespace midstick::page
