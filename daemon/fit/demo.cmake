# The bank mower as it is installed: the files of fixtures/mower, with the ways to images and schemas that hold below share/midstick.
set(demo ${CMAKE_SOURCE_DIR}/fixtures/mower)
file(GLOB files RELATIVE ${demo} CONFIGURE_DEPENDS ${demo}/*.json ${demo}/sticks/*.json)
list(REMOVE_ITEM files daemon.json)  # its installed form is /etc/midstick/daemon.json
foreach(file ${files})
  set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${demo}/${file})
  file(READ ${demo}/${file} text)
  string(REPLACE "../../build/images/" "../images/" text "${text}")
  string(REPLACE "../../daemon/script/schema/" "../schema/" text "${text}")
  file(CONFIGURE OUTPUT mower/${file} CONTENT "${text}" @ONLY)
endforeach()
install(DIRECTORY ${CMAKE_CURRENT_BINARY_DIR}/mower DESTINATION ${CMAKE_INSTALL_DATADIR}/midstick)
install(DIRECTORY ${CMAKE_SOURCE_DIR}/daemon/script/schema DESTINATION ${CMAKE_INSTALL_DATADIR}/midstick FILES_MATCHING PATTERN *.schema.json)
# The board's firmware for the virtual bench and for a real one, the correct controller, and the one that keeps driving when the link drops.
foreach(image board.elf board.hex drive-correct.elf drive-hold-last.elf drive-hold-last.json)
  install(FILES ${MIDSTICK_IMAGES}/${image} DESTINATION ${CMAKE_INSTALL_DATADIR}/midstick/images)
endforeach()
