# What comes from outside. Everything is an imported target, so that its headers are system headers to our warnings.
find_package(PkgConfig REQUIRED)
find_package(Eigen3 3.4 REQUIRED)
find_package(nlohmann_json 3.11 REQUIRED)
find_package(CLI11 2.1 REQUIRED)
find_package(PNG REQUIRED)
find_package(embree 3 REQUIRED)
find_package(OpenSSL 3 REQUIRED COMPONENTS Crypto)
pkg_check_modules(turbojpeg REQUIRED IMPORTED_TARGET libturbojpeg)
pkg_check_modules(webp REQUIRED IMPORTED_TARGET libwebp libwebpdemux libwebpmux)
pkg_check_modules(heif REQUIRED IMPORTED_TARGET libheif)
pkg_check_modules(microhttpd REQUIRED IMPORTED_TARGET libmicrohttpd)
pkg_check_modules(qrencode REQUIRED IMPORTED_TARGET libqrencode)
if(SHIMSIGHT_BUILD_TESTS)
  find_package(Catch2 2.13 REQUIRED)
  # A client for the server's tests and its benchmark alone.
  pkg_check_modules(httplib REQUIRED IMPORTED_TARGET cpp-httplib)
endif()

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
