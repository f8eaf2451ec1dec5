# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# What the engine (measuring and advice) needs from outside. Also installed, for those who build against it. Everything is
# an imported target, so that its headers are system headers to our warnings.
find_package(PkgConfig REQUIRED)
find_package(Eigen3 3.4 REQUIRED)
find_package(PNG REQUIRED)
pkg_check_modules(turbojpeg REQUIRED IMPORTED_TARGET libturbojpeg)
pkg_check_modules(webp REQUIRED IMPORTED_TARGET libwebp libwebpdemux libwebpmux)
pkg_check_modules(heif REQUIRED IMPORTED_TARGET libheif)

# OpenCV's CMake package comes only with its full development package, so the component packages are found by hand.
find_path(SHIMSIGHT_OPENCV_INCLUDE_DIR opencv2/core.hpp PATH_SUFFIXES opencv4 REQUIRED)
foreach(part IN ITEMS core imgproc dnn)
  find_library(SHIMSIGHT_OPENCV_${part}_LIBRARY opencv_${part} REQUIRED)
  add_library(opencv_${part} UNKNOWN IMPORTED)
  set_target_properties(opencv_${part} PROPERTIES
    IMPORTED_LOCATION "${SHIMSIGHT_OPENCV_${part}_LIBRARY}"
    INTERFACE_INCLUDE_DIRECTORIES "${SHIMSIGHT_OPENCV_INCLUDE_DIR}")
endforeach()
set_property(TARGET opencv_imgproc PROPERTY INTERFACE_LINK_LIBRARIES opencv_core)
set_property(TARGET opencv_dnn PROPERTY INTERFACE_LINK_LIBRARIES opencv_core)
