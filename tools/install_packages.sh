#!/usr/bin/env bash
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# Installs the Debian 12 packages that Shimsight needs.
#   tools/install_packages.sh run     to build and run it
#   tools/install_packages.sh package also to make the Debian package
#   tools/install_packages.sh bare    also to try that package on a bare Debian
#   tools/install_packages.sh test    also to test, format and lint it, by g++ and clang
set -euo pipefail

packages=(
    g++ cmake ninja-build pkg-config
    libeigen3-dev nlohmann-json3-dev libcli11-dev
    libopencv-core-dev libopencv-imgproc-dev libopencv-dnn-dev
    libturbojpeg0-dev libpng-dev libwebp-dev libheif-dev libssl-dev
    libmicrohttpd-dev libqrencode-dev
    libembree-dev libmd4c-dev
    libfreetype-dev
)
case "${1:-}" in
run) ;;
package) packages+=(dpkg-dev file python3) ;;
bare) packages+=(dpkg-dev file python3 mmdebstrap) ;;
test) packages+=(catch2 libcpp-httplib-dev clang libclang-rt-14-dev clang-format clang-tidy shellcheck doxygen universal-ctags python3 python3-jsonschema
    tidy parallel chromium firefox-esr curl openssl lintian mandoc) ;;
*)
    echo "usage: tools/install_packages.sh run|package|bare|test" >&2
    exit 2
    ;;
esac

# The browser tests run on Node.js, from wherever it came; some builds of it bring npm along and refuse Debian's.
if [ "$1" = test ]; then
    command -v node >/dev/null || packages+=(nodejs)
    command -v npm >/dev/null || packages+=(npm)
fi

missing=()
for package in "${packages[@]}"; do
    if [ "$(dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null || true)" != installed ]; then
        missing+=("$package")
    fi
done
if [ ${#missing[@]} -eq 0 ]; then
    echo "packages: all ${#packages[@]} are installed"
    exit 0
fi

sudo=()
if [ "$(id -u)" -ne 0 ]; then
    sudo=(sudo)
fi
apt=("${sudo[@]}" env DEBIAN_FRONTEND=noninteractive apt-get -o DPkg::Lock::Timeout=600 -q)
echo "packages: installing ${missing[*]}"
"${apt[@]}" update
"${apt[@]}" install -y --no-install-recommends "${missing[@]}"
