# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# What comes from outside.
include(engine_dependencies)
find_package(nlohmann_json 3.11 REQUIRED)
find_package(CLI11 2.1 REQUIRED)
find_package(embree 3 REQUIRED)
find_package(OpenSSL 3 REQUIRED COMPONENTS Crypto)
pkg_check_modules(microhttpd REQUIRED IMPORTED_TARGET libmicrohttpd)
pkg_check_modules(qrencode REQUIRED IMPORTED_TARGET libqrencode)
if(SHIMSIGHT_BUILD_TESTS)
  find_package(Catch2 2.13 REQUIRED)
  # A client for the server's tests and its benchmark alone.
  pkg_check_modules(httplib REQUIRED IMPORTED_TARGET cpp-httplib)
endif()
