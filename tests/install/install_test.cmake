# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# Installs into an empty folder, builds the program beside this file against it, and lets it read a photo.
# -DBUILD=... -DSOURCE=... -DWORK=... -DCOMPILER=...
function(run)
  execute_process(COMMAND ${ARGV} RESULT_VARIABLE status OUTPUT_VARIABLE output ERROR_VARIABLE output)
  if(NOT status EQUAL 0)
    message(FATAL_ERROR "${ARGV}: ${status}\n${output}")
  endif()
  set(output "${output}" PARENT_SCOPE)
endfunction()

file(REMOVE_RECURSE "${WORK}")
run("${CMAKE_COMMAND}" --install "${BUILD}" --prefix "${WORK}/installed")
run("${WORK}/installed/bin/shimsight" --version)
run("${CMAKE_COMMAND}" -S "${SOURCE}/tests/install" -B "${WORK}/build" -DCMAKE_BUILD_TYPE=Release
    "-DCMAKE_CXX_COMPILER=${COMPILER}" "-DCMAKE_PREFIX_PATH=${WORK}/installed")
# Neither the sources nor the build may be needed: nothing in the package names them.
file(GLOB_RECURSE package "${WORK}/installed/lib/*.cmake" "${WORK}/installed/include/*.h")
list(LENGTH package count)
if(count LESS 10)
  message(FATAL_ERROR "the package has ${count} files")
endif()
foreach(file IN LISTS package)
  file(READ "${file}" text)
  string(FIND "${text}" "${SOURCE}/" place)
  if(NOT place EQUAL -1)
    message(FATAL_ERROR "${file} names the sources")
  endif()
endforeach()
run("${CMAKE_COMMAND}" --build "${WORK}/build")
run("${WORK}/build/read_a_photo" "${SOURCE}/samples/van-b-good/drive.jpg")
if(NOT output MATCHES "Shimsight [0-9.]+\ndrive side: centre 0\\.[3-7]")
  message(FATAL_ERROR "the photo of a good pattern was read as: ${output}")
endif()
message("${output}")
