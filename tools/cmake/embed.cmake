# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# shimsight_embed(MODULE FILE ...)
#
# Puts files into the library shimsight_MODULE, so that the program works wherever it is copied. The module finds them
# by their names without folders: the header "MODULE/embedded.h" declares shimsight::MODULE::embeddedFiles(), a table of
# name and bytes in the order of the files (EmbeddedFile of shimsight/embedded.h). A changed file is put in anew by the
# next build. The files stand in an assembler directive: GNU assembler, ELF.
function(shimsight_embed module)
  set(folder "${CMAKE_CURRENT_BINARY_DIR}/embedded")
  set(definitions "")
  set(declarations "")
  set(entries "")
  set(names "")
  set(paths "")
  foreach(file IN LISTS ARGN)
    cmake_path(ABSOLUTE_PATH file NORMALIZE)
    cmake_path(GET file FILENAME name)
    if(name IN_LIST names)
      message(FATAL_ERROR "shimsight_embed(${module}): two files are named ${name}")
    endif()
    list(LENGTH names number)
    list(APPEND names "${name}")
    list(APPEND paths "${file}")
    set(symbol "shimsight_${module}_file${number}")
    string(APPEND definitions
      "asm(\".section .rodata\\n.balign 16\\n.globl ${symbol}\\n${symbol}:\\n.incbin \\\"${file}\\\"\\n\"\n"
      "    \".globl ${symbol}_end\\n${symbol}_end:\\n.text\\n\");\n")
    string(APPEND declarations "extern const char ${symbol}[], ${symbol}_end[];\n")
    string(APPEND entries "        {\"${name}\", {${symbol}, ${symbol}_end}},\n")
  endforeach()
  file(CONFIGURE OUTPUT "${folder}/${module}/embedded.h" @ONLY CONTENT
"// Written by CMake: shimsight_embed.
#pragma once
#include <span>

#include \"shimsight/embedded.h\"
namespace shimsight::@module@ {
std::span<const EmbeddedFile> embeddedFiles();
}
")
  file(CONFIGURE OUTPUT "${folder}/embedded.cpp" @ONLY CONTENT
"// Written by CMake: shimsight_embed.
#include \"@module@/embedded.h\"

@definitions@
extern \"C\" {
@declarations@}
namespace shimsight::@module@ {
std::span<const EmbeddedFile> embeddedFiles() {
    static const EmbeddedFile files[] = {
@entries@    };
    return files;
}
}  // namespace shimsight::@module@
")
  target_sources(shimsight_${module} PRIVATE "${folder}/embedded.cpp")
  target_include_directories(shimsight_${module} PRIVATE "${folder}")
  set_source_files_properties("${folder}/embedded.cpp" PROPERTIES
    SKIP_UNITY_BUILD_INCLUSION ON OBJECT_DEPENDS "${paths}")
endfunction()
