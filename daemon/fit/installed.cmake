# Files that name others by their way in the tree, as they are installed: the bank mower and the page for CI services.
# moved(FILE NAME FROM TO...): FILE to NAME in the build folder, with every FROM in it now TO.
function(moved file name)
  set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${file})
  file(READ ${file} text)
  while(ARGN)
    list(POP_FRONT ARGN from to)
    string(REPLACE "${from}" "${to}" text "${text}")
  endwhile()
  file(CONFIGURE OUTPUT ${name} CONTENT "${text}" @ONLY)
endfunction()

set(demo ${CMAKE_SOURCE_DIR}/fixtures/mower)
file(GLOB files RELATIVE ${demo} CONFIGURE_DEPENDS ${demo}/*.json ${demo}/sticks/*.json)
list(REMOVE_ITEM files daemon.json)  # its installed form is /etc/midstick/daemon.json
foreach(file ${files})
  moved(${demo}/${file} mower/${file} ../../build/images/ ../images/ ../../daemon/script/schema/ ../schema/)
endforeach()
install(DIRECTORY ${CMAKE_CURRENT_BINARY_DIR}/mower DESTINATION ${CMAKE_INSTALL_DATADIR}/midstick)
install(DIRECTORY ${CMAKE_SOURCE_DIR}/daemon/script/schema DESTINATION ${CMAKE_INSTALL_DATADIR}/midstick FILES_MATCHING PATTERN *.schema.json)
# The board's firmware for the virtual bench and for a real one, the correct controller, and the one that keeps driving when the link drops.
foreach(image board.elf board.hex drive-correct.elf drive-hold-last.elf drive-hold-last.json)
  install(FILES ${MIDSTICK_IMAGES}/${image} DESTINATION ${CMAKE_INSTALL_DATADIR}/midstick/images)
endforeach()

moved(${CMAKE_CURRENT_SOURCE_DIR}/CI.md CI.md ../../scripts/ examples/ ../../fixtures/board/ ./)
