// The page as it is built into the program: a table of files, none of them made at run time. It is no server; who serves it sends each
// asset's bytes with its content type and the content security policy below. All data is constant and lives as long as the program.
#pragma once

#include <span>
#include <string_view>

namespace midstick::page {

/// Everything comes from the page's own origin; no inline script, no inline style.
inline constexpr std::string_view kContentSecurityPolicy =
    "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; object-src 'none'";

struct Asset {
  std::string_view path;          ///< relative to the page's own address: "index.html", "views/bench.js"
  std::string_view content_type;  ///< with charset where it is text
  std::string_view bytes;
};

/// Every asset, ordered by path.
std::span<const Asset> assets();

/// The asset with this path; "" is index.html. Null: there is none.
const Asset* find(std::string_view path);

}  // namespace midstick::page
