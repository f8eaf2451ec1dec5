#!/usr/bin/env bash
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# Makes src/draw/fonts/*.ttf anew: DejaVu Sans with the letters of European languages and the signs that pictures show.
# Outlines and hints stay as they are, so that pictures stay the same byte for byte.
#   tools/package/make_fonts.sh         from Debian's fonts-dejavu-core and python3-fonttools
set -euo pipefail
cd "$(dirname "$0")/../.."

# Latin with accents, Greek, Cyrillic, punctuation, raised and lowered figures, arrows, signs of mathematics, the square
# that stands for what is not there.
letters=U+0020-007E,U+00A0-024F,U+02B0-02FF,U+0300-036F,U+0370-03FF,U+0400-045F,U+0490-0491,U+1E00-1EFF
signs=U+2010-2027,U+2030-203E,U+2044,U+2070-209C,U+20AC,U+2116,U+2122,U+2126,U+2150-215F,U+2190-2195,U+2200-2265
signs+=,U+25A0-25CF,U+2713-2718,U+FFFD
for name in DejaVuSans DejaVuSans-Bold; do
    /usr/bin/python3 -m fontTools.subset "/usr/share/fonts/truetype/dejavu/$name.ttf" \
        --unicodes="$letters,$signs" --layout-features='' --hinting --notdef-outline --name-IDs='*' --no-glyph-names \
        --drop-tables+=GSUB,GPOS,GDEF,kern,FFTM --output-file="src/draw/fonts/$name.ttf"
done
