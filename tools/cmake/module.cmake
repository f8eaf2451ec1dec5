# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# One library for each folder of src/, one test program for each folder of tests/unit/.

add_library(shimsight_warnings INTERFACE)
target_compile_options(shimsight_warnings INTERFACE -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Werror)

if(SHIMSIGHT_SANITIZE)
  set(sanitizers_address address,undefined)
  set(sanitizers_thread thread)
  if(NOT DEFINED sanitizers_${SHIMSIGHT_SANITIZE})
    message(FATAL_ERROR "SHIMSIGHT_SANITIZE is address, thread or empty, not ${SHIMSIGHT_SANITIZE}")
  endif()
  add_compile_options(-fsanitize=${sanitizers_${SHIMSIGHT_SANITIZE}} -fno-sanitize-recover=all -fno-omit-frame-pointer)
  add_link_options(-fsanitize=${sanitizers_${SHIMSIGHT_SANITIZE}})
  # For the few places that ask for less memory or time than a sanitizer needs; the compilers' own macros differ.
  add_compile_definitions(SHIMSIGHT_SANITIZED)
endif()

# What libFuzzer steers by: in the modules that a target of tests/fuzz reaches, nowhere else, since it costs a fifth of the
# time to compile.
set(coverage)
if(SHIMSIGHT_SANITIZE STREQUAL "address" AND CMAKE_CXX_COMPILER_ID STREQUAL "Clang")
  set(coverage -fsanitize=fuzzer-no-link)
endif()

# By the presets all files of a module are compiled as one, which takes half of the time. Without a preset, or with
# -DCMAKE_UNITY_BUILD=OFF, file by file: quicker while one file is worked on, and each has to stand on its own.
if(CMAKE_UNITY_BUILD)
  set(CMAKE_UNITY_BUILD_BATCH_SIZE 0)
  # Private types in a file of their own are no fault where that file is included.
  target_compile_options(shimsight_warnings INTERFACE $<$<CXX_COMPILER_ID:GNU>:-Wno-subobject-linkage>)
endif()

# Tests and light modules: the compiler spends most of its time on making fast what takes none; -O1 takes a third less.
set(light $<$<CONFIG:Release>:-O1>)

# shimsight_module(NAME [HEADERS file.h ...] [DEPS module ...] [PUBLIC_LIBS target ...] [PRIVATE_LIBS target ...]
#                  [LIGHT])
#
# Static library shimsight_NAME from src/NAME/*.cpp (a header-only library when there is none).
# HEADERS: the module's files in include/shimsight/ besides NAME.h and NAME_*.h; only tools/check_layers.py reads it.
# DEPS: the modules it may include. PUBLIC_LIBS: outside targets that its public header needs; PRIVATE_LIBS: the others.
# LIGHT: words, records and requests around the modules that do the work: -O1 in the release.
function(shimsight_module name)
  cmake_parse_arguments(PARSE_ARGV 1 arg "LIGHT" "" "HEADERS;DEPS;PUBLIC_LIBS;PRIVATE_LIBS")
  if(arg_UNPARSED_ARGUMENTS)
    message(FATAL_ERROR "shimsight_module(${name}): unknown arguments ${arg_UNPARSED_ARGUMENTS}")
  endif()
  list(TRANSFORM arg_DEPS PREPEND shimsight_ OUTPUT_VARIABLE dep_targets)
  file(GLOB sources CONFIGURE_DEPENDS "${PROJECT_SOURCE_DIR}/src/${name}/*.cpp")
  set(target shimsight_${name})
  if(sources)
    add_library(${target} STATIC ${sources})
    target_include_directories(${target} PUBLIC "${PROJECT_SOURCE_DIR}/include" PRIVATE "${PROJECT_SOURCE_DIR}/src")
    target_link_libraries(${target} PUBLIC ${dep_targets} ${arg_PUBLIC_LIBS}
                                    PRIVATE ${arg_PRIVATE_LIBS} shimsight_warnings)
    if(NOT name STREQUAL cli)
      target_compile_options(${target} PRIVATE ${coverage})
    endif()
    if(arg_LIGHT)
      target_compile_options(${target} PRIVATE ${light})
    endif()
  else()
    add_library(${target} INTERFACE)
    target_include_directories(${target} INTERFACE "${PROJECT_SOURCE_DIR}/include")
    target_link_libraries(${target} INTERFACE ${dep_targets} ${arg_PUBLIC_LIBS})
  endif()
  set_property(GLOBAL APPEND PROPERTY SHIMSIGHT_MODULES_DEFINED ${name})
  set_property(GLOBAL PROPERTY SHIMSIGHT_DEPS_${name} "${arg_DEPS}")
endfunction()

# Seconds after which a test counts as hung; the slowest take a few minutes on two cores, with the sanitizers more.
set(SHIMSIGHT_TEST_TIMEOUT 1800)

# shimsight_tests(NAME [DEPS module ...] [LIBS target ...] [SLOW])
#
# Catch2 program test_NAME from tests/unit/NAME/*_test.cpp, linked to shimsight_NAME, the further modules DEPS and the
# outside targets LIBS. It sees src/ (private headers), tests/ (tests/support) and the constant SHIMSIGHT_SOURCE_DIR.
# SLOW: not one of those that .ci/run fast runs (label "fast"). Does nothing while there is no test file.
function(shimsight_tests name)
  cmake_parse_arguments(PARSE_ARGV 1 arg "SLOW" "" "DEPS;LIBS")
  if(NOT SHIMSIGHT_BUILD_TESTS)
    return()
  endif()
  file(GLOB sources CONFIGURE_DEPENDS "${PROJECT_SOURCE_DIR}/tests/unit/${name}/*_test.cpp")
  if(NOT sources)
    return()
  endif()
  list(TRANSFORM arg_DEPS PREPEND shimsight_ OUTPUT_VARIABLE dep_targets)
  add_executable(test_${name} ${sources})
  target_include_directories(test_${name} PRIVATE "${PROJECT_SOURCE_DIR}/src" "${PROJECT_SOURCE_DIR}/tests")
  target_compile_definitions(test_${name} PRIVATE "SHIMSIGHT_SOURCE_DIR=\"${PROJECT_SOURCE_DIR}\"")
  target_link_libraries(test_${name} PRIVATE shimsight_${name} ${dep_targets} ${arg_LIBS}
                                             Catch2::Catch2WithMain shimsight_warnings)
  set_target_properties(test_${name} PROPERTIES RUNTIME_OUTPUT_DIRECTORY "${PROJECT_BINARY_DIR}/tests")
  target_compile_options(test_${name} PRIVATE ${light})
  # Many draws of the same code show numbers, which the shipped build does; a sanitizer sees that code in other tests.
  set(cases)
  if(SHIMSIGHT_SANITIZE)
    set(cases "~[many-draws]")
  endif()
  add_test(NAME ${name} COMMAND test_${name} ${cases})
  set_tests_properties(${name} PROPERTIES
    ENVIRONMENT "LSAN_OPTIONS=suppressions=${PROJECT_SOURCE_DIR}/tests/leaks.txt:print_suppressions=0"
    TIMEOUT ${SHIMSIGHT_TEST_TIMEOUT})
  if(NOT arg_SLOW)
    set_property(TEST ${name} PROPERTY LABELS fast)
  endif()
endfunction()
