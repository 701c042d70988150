# The Debian package: scripts/package. What it depends on, dpkg-shlibdeps reads from the programs; tzdata (nights in local time) and procps
# (the unit's reload) it cannot see.
set(MIDSTICK_MAINTAINER "Midstick maintainers <maintainers@midstick.invalid>" CACHE STRING "Who answers for the package")
set(doc ${CMAKE_INSTALL_DOCDIR})
configure_file(debian/conffiles.in conffiles @ONLY)
configure_file(debian/changelog.in changelog @ONLY)
midstick_gzip(${CMAKE_CURRENT_BINARY_DIR}/changelog changelog.gz)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/changelog.gz debian/copyright DESTINATION ${doc})
install(FILES debian/lintian-overrides DESTINATION ${CMAKE_INSTALL_DATADIR}/lintian/overrides RENAME midstick)

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME midstick)
set(CPACK_PACKAGE_DIRECTORY ${CMAKE_BINARY_DIR}/package)
set(CPACK_PACKAGING_INSTALL_PREFIX ${CMAKE_INSTALL_PREFIX})
set(CPACK_STRIP_FILES ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_MAINTAINER ${MIDSTICK_MAINTAINER})
set(CPACK_DEBIAN_PACKAGE_SECTION electronics)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_DEPENDS "tzdata, procps")
set(CPACK_DEBIAN_PACKAGE_SUGGESTS "avrdude, bash-completion, postgresql, prometheus")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "test bench for radio-control drive controllers")
set(CPACK_DEBIAN_PACKAGE_DESCRIPTION "Midstick tests the controller of a radio-controlled tracked machine: a bench
board makes servo pulses in place of the receiver and captures what the
controller puts out; the programs play stick sequences, judge the answers
against a mixer specification and write reports with evidence. A virtual bench
runs the same checks on emulated chips. The daemon owns the benches and runs
plans every night.

It powers controllers unattended, once it is enabled. Read midstickd(8) first.")
set(scripts ${CMAKE_CURRENT_SOURCE_DIR}/debian)
set(CPACK_DEBIAN_PACKAGE_CONTROL_EXTRA ${CMAKE_CURRENT_BINARY_DIR}/conffiles ${scripts}/postinst ${scripts}/prerm ${scripts}/postrm)
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
set(CPACK_INSTALL_DEFAULT_DIRECTORY_PERMISSIONS ${CMAKE_INSTALL_DEFAULT_DIRECTORY_PERMISSIONS})
include(CPack)
