# Turns openapi.json into a C++ file, so that the daemon needs none at run time. Call: cmake -DOUT=file -DFILE=openapi.json -P.
# In pieces, since a compiler need not take a string literal of more than 65,535 characters.
file(READ ${FILE} content)
string(LENGTH "${content}" length)
set(pieces "")
set(at 0)
while(at LESS length)
  string(SUBSTRING "${content}" ${at} 8000 piece)
  string(APPEND pieces "R\"contract(${piece})contract\"\n")
  math(EXPR at "${at} + 8000")
endwhile()
file(WRITE ${OUT} "// Made by embed.cmake from daemon/service/openapi.json.
#include \"daemon/service/api.hpp\"

namespace midstick::service {
namespace {
constexpr char kText[] = ${pieces};
}  // namespace
std::string_view contract_text() { return {kText, sizeof kText - 1}; }
}  // namespace midstick::service
")
