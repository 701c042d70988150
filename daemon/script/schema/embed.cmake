# Turns the schema files into one C++ file, so that the program needs none at run time. Call: cmake -DOUT=file -DDIR=folder -P.
set(text "// Made by embed.cmake from daemon/script/schema.\n#include \"daemon/script/schemas.hpp\"\n\nnamespace midstick::script::embedded {\n")
foreach(kind controller mixer sticks plan daemon)
  file(READ ${DIR}/${kind}.schema.json content)
  string(APPEND text "const char* const ${kind} = R\"schema(${content})schema\";\n")
endforeach()
string(APPEND text "}  // namespace midstick::script::embedded\n")
file(WRITE ${OUT} "${text}")
