# Turns the page's files into one C++ file, so that the program needs none at run time.
# Call: cmake -DOUT=file -DLIST=file -P; each line of LIST is "path in the page=file on disk", ordered by path.
file(STRINGS ${LIST} entries)
set(data "")
set(rows "")
set(number 0)
foreach(entry ${entries})
  string(REGEX MATCH "^([^=]*)=(.*)$" whole "${entry}")
  set(path ${CMAKE_MATCH_1})
  set(file ${CMAKE_MATCH_2})
  if(path MATCHES "\\.html$")
    set(type "text/html; charset=utf-8")
  elseif(path MATCHES "\\.js$")
    set(type "text/javascript; charset=utf-8")
  elseif(path MATCHES "\\.css$")
    set(type "text/css; charset=utf-8")
  elseif(path MATCHES "\\.svg$")
    set(type "image/svg+xml")
  elseif(path MATCHES "\\.txt$")
    set(type "text/plain; charset=utf-8")
  else()
    message(FATAL_ERROR "${file}: no content type is known for it; expected .html, .js, .css, .svg or .txt")
  endif()
  file(READ ${file} hex HEX)
  string(REGEX REPLACE "(..)" "'\\\\x\\1'," bytes "${hex}")
  string(APPEND data "constexpr char file${number}[] = {${bytes}};\n")
  string(APPEND rows "    {\"${path}\", \"${type}\", {file${number}, sizeof file${number}}},\n")
  math(EXPR number "${number} + 1")
endforeach()
file(WRITE ${OUT} "// Made by daemon/page/embed.cmake.
#include \"daemon/page/page.hpp\"

namespace midstick::page {
namespace {
${data}
constexpr Asset table[] = {
${rows}};
}  // namespace

std::span<const Asset> assets() { return table; }

}  // namespace midstick::page
")
