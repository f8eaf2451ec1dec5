# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# Writes OUT, a header with one constant: VERSION and a check sum over the content of FILES.
set(sums "")
foreach(file IN LISTS FILES)
  file(SHA256 "${file}" sum)
  string(APPEND sums "${sum}\n")
endforeach()
string(SHA256 all "${sums}")
string(SUBSTRING "${all}" 0 16 short)
file(WRITE "${OUT}" "#pragma once\n#define SHIMSIGHT_READING_VERSION \"${VERSION}-${short}\"\n")
