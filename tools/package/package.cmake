# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# The package: `cpack -G DEB` in the build folder, after `cmake --build` has made the targets shimsight and manual.
# Component `program` is what `cmake --install` puts anywhere: program, manual, completion, gear sets, schemas, a sample.
# Component `system` has its places in the system: service, desktop entry and what Debian asks for. The engine for
# developers (component `engine`) is left out.
set(here "${CMAKE_CURRENT_LIST_DIR}")
set(made "${PROJECT_BINARY_DIR}/manual")
find_program(SHIMSIGHT_PYTHON python3)
if(NOT SHIMSIGHT_PYTHON)
  message(STATUS "no python3: the program is built without manual pages, completion and package")
  return()
endif()

add_custom_command(OUTPUT "${made}/stamp"
  COMMAND "${CMAKE_COMMAND}" -E rm -rf "${made}"
  COMMAND "${SHIMSIGHT_PYTHON}" "${here}/manual.py" $<TARGET_FILE:shimsight> "${made}"
  COMMAND sh -c "gzip -9n '${made}'/man1/*.1"
  COMMAND "${CMAKE_COMMAND}" -E touch "${made}/stamp"
  DEPENDS shimsight "${here}/manual.py"
  COMMENT "Writing the manual pages and the completion" VERBATIM)
# With the sanitizers nothing is shipped.
if(SHIMSIGHT_SANITIZE)
  add_custom_target(manual DEPENDS "${made}/stamp")
  return()
endif()
add_custom_target(manual ALL DEPENDS "${made}/stamp")

set(share "${CMAKE_INSTALL_DATADIR}/shimsight")
install(DIRECTORY "${made}/man1/" DESTINATION "${CMAKE_INSTALL_MANDIR}/man1" COMPONENT program)
install(FILES "${made}/bash/shimsight" DESTINATION "${CMAKE_INSTALL_DATADIR}/bash-completion/completions"
  COMPONENT program)
install(FILES "${made}/zsh/_shimsight" DESTINATION "${CMAKE_INSTALL_DATADIR}/zsh/vendor-completions" COMPONENT program)
install(DIRECTORY "${PROJECT_SOURCE_DIR}/models/gear-sets" "${PROJECT_SOURCE_DIR}/models/schemas" DESTINATION "${share}"
  COMPONENT program)
set(sample "${PROJECT_SOURCE_DIR}/samples/van-a-too-shallow")
install(FILES "${sample}/drive.jpg" "${sample}/coast.jpg" DESTINATION "${share}/samples/van-a-too-shallow"
  COMPONENT program)
install(DIRECTORY "${PROJECT_SOURCE_DIR}/docs/" DESTINATION "${CMAKE_INSTALL_DOCDIR}" COMPONENT program)
install(FILES "${PROJECT_SOURCE_DIR}/NOTICE" DESTINATION "${CMAKE_INSTALL_DOCDIR}" COMPONENT program)

# Debian's own: compressed without a time, so that the same sources give the same package.
string(TIMESTAMP SHIMSIGHT_PACKAGE_DATE "%a, %d %b %Y %H:%M:%S +0000" UTC)
configure_file("${here}/changelog.in" "${PROJECT_BINARY_DIR}/package/changelog" @ONLY)
configure_file("${PROJECT_SOURCE_DIR}/CHANGELOG.md" "${PROJECT_BINARY_DIR}/package/NEWS.md" COPYONLY)
execute_process(COMMAND gzip -9nf changelog NEWS.md WORKING_DIRECTORY "${PROJECT_BINARY_DIR}/package"
  COMMAND_ERROR_IS_FATAL ANY)
macro(shimsight_for_system kind)
  install(${kind} ${ARGN} COMPONENT system EXCLUDE_FROM_ALL)
endmacro()
shimsight_for_system(FILES "${PROJECT_BINARY_DIR}/package/changelog.gz" "${PROJECT_BINARY_DIR}/package/NEWS.md.gz"
  "${here}/copyright" DESTINATION share/doc/shimsight)
shimsight_for_system(FILES "${here}/lan.conf" DESTINATION share/doc/shimsight/examples)
shimsight_for_system(FILES "${here}/shimsight.service" DESTINATION /lib/systemd/system)
shimsight_for_system(FILES "${here}/shimsight.desktop" DESTINATION share/applications)
shimsight_for_system(FILES "${here}/shimsight.svg" DESTINATION share/icons/hicolor/scalable/apps)
shimsight_for_system(PROGRAMS "${here}/bench" DESTINATION libexec/shimsight)

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME shimsight)
set(CPACK_PACKAGE_VERSION "${PROJECT_VERSION}")
set(CPACK_PACKAGE_VENDOR "Shimsight developers")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "reads gear contact patterns and says which shim to change")
set(CPACK_DEBIAN_PACKAGE_DESCRIPTION
"Shimsight measures the contact pattern on photos of the ring gear teeth of an
axle, works out pinion depth and backlash error by tooth contact analysis of
that gear set, and says which shim to add or take and how sure it is. It keeps
the record of each set-up, serves a page for a phone at the bench, writes
build sheets, and teaches apprentices to read the teeth.")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_COMPONENTS_ALL program system)
set(CPACK_COMPONENTS_GROUPING ALL_COMPONENTS_IN_ONE)
set(CPACK_STRIP_FILES ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_MAINTAINER "Shimsight developers <developers@shimsight.invalid>")
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PACKAGE_PRIORITY optional)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_RECOMMENDS "xdg-utils")
set(CPACK_DEBIAN_PACKAGE_SUGGESTS "chromium")
set(CPACK_DEBIAN_PACKAGE_CONTROL_EXTRA "${here}/postinst;${here}/prerm;${here}/postrm")
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
include(CPack)
