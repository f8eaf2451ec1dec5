# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# cmake --install: the program, and the engine as one library, Shimsight::shimsight, with its public headers.
include(GNUInstallDirs)
include(CMakePackageConfigHelpers)

# The headers that the engine shows; what they include comes along.
set(engine_headers gear_set.h tooth_contact.h pattern.h photo.h measure.h advice.h)
set(engine_modules core words gear pattern advice photo network flank teeth records contact measure)

# shimsight_with_includes(OUT header ...): the headers and all of include/shimsight that they include.
function(shimsight_with_includes out)
  set(all "")
  set(open ${ARGN})
  while(open)
    list(POP_FRONT open header)
    if(header IN_LIST all)
      continue()
    endif()
    list(APPEND all "${header}")
    file(STRINGS "${PROJECT_SOURCE_DIR}/include/shimsight/${header}" lines REGEX "^#include \"shimsight/")
    list(TRANSFORM lines REPLACE "^#include \"shimsight/([^\"]+)\".*" "\\1")
    list(REMOVE_ITEM lines version.h)
    list(APPEND open ${lines})
  endwhile()
  set(${out} "${all}" PARENT_SCOPE)
endfunction()

add_library(shimsight_engine STATIC)
foreach(module IN LISTS engine_modules)
  if(TARGET shimsight_${module})
    target_sources(shimsight_engine PRIVATE $<TARGET_OBJECTS:shimsight_${module}>)
  endif()
endforeach()
set_target_properties(shimsight_engine PROPERTIES
  OUTPUT_NAME shimsight EXPORT_NAME shimsight LINKER_LANGUAGE CXX UNITY_BUILD OFF)
target_compile_features(shimsight_engine INTERFACE cxx_std_20)
target_include_directories(shimsight_engine INTERFACE "$<INSTALL_INTERFACE:${CMAKE_INSTALL_INCLUDEDIR}>")
target_link_libraries(shimsight_engine
  PUBLIC Eigen3::Eigen
  PRIVATE PkgConfig::turbojpeg PNG::PNG PkgConfig::webp PkgConfig::heif opencv_imgproc opencv_dnn opencv_core)

shimsight_with_includes(headers ${engine_headers})
list(TRANSFORM headers PREPEND "${PROJECT_SOURCE_DIR}/include/shimsight/")
install(FILES ${headers} "${PROJECT_BINARY_DIR}/include/shimsight/version.h"
  DESTINATION "${CMAKE_INSTALL_INCLUDEDIR}/shimsight" COMPONENT engine)
install(TARGETS shimsight RUNTIME DESTINATION "${CMAKE_INSTALL_BINDIR}" COMPONENT program)
install(TARGETS shimsight_engine EXPORT ShimsightTargets ARCHIVE DESTINATION "${CMAKE_INSTALL_LIBDIR}"
  COMPONENT engine)

set(package "${CMAKE_INSTALL_LIBDIR}/cmake/Shimsight")
install(EXPORT ShimsightTargets NAMESPACE Shimsight:: DESTINATION "${package}" COMPONENT engine)
configure_package_config_file("${CMAKE_CURRENT_LIST_DIR}/ShimsightConfig.cmake.in"
  "${PROJECT_BINARY_DIR}/ShimsightConfig.cmake" INSTALL_DESTINATION "${package}")
write_basic_package_version_file("${PROJECT_BINARY_DIR}/ShimsightConfigVersion.cmake" COMPATIBILITY SameMinorVersion)
install(FILES "${PROJECT_BINARY_DIR}/ShimsightConfig.cmake" "${PROJECT_BINARY_DIR}/ShimsightConfigVersion.cmake"
  "${CMAKE_CURRENT_LIST_DIR}/engine_dependencies.cmake" DESTINATION "${package}" COMPONENT engine)

include("${PROJECT_SOURCE_DIR}/tools/package/package.cmake")
