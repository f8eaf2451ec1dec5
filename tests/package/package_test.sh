#!/usr/bin/env bash
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# Makes the Debian package, installs it on a bare Debian 12, uses it as a stranger would, and takes it away again.
#   package_test.sh BUILD WORK
# The bare system takes minutes, root, mmdebstrap and Debian's archive, so it is made with SHIMSIGHT_PACKAGE_BARE=yes alone, and then
# has to be; else the package is unpacked and its program run from there, which is said. lintian judges it where it is installed.
set -euo pipefail
bare=${SHIMSIGHT_PACKAGE_BARE:-}
# What is mounted for the bare system goes with this script, however it ends.
if [ "$bare" = yes ] && [ -z "${SHIMSIGHT_OWN_MOUNTS:-}" ]; then
    SHIMSIGHT_OWN_MOUNTS=yes exec unshare --mount --propagation private "$0" "$@"
fi
build=$(realpath "$1") work=$(realpath -m "$2")

fail() {
    echo "FAILED: $*" >&2
    exit 1
}
# holds FILE TEXT: the file holds the text.
holds() { grep -qF -- "$2" "$1" || fail "$(basename "$1") does not hold: $2"; }
show() { sed 's/^/    /' "$1"; }

rm -rf --one-file-system "$work"
mkdir -p "$work/out"
cd "$work"

echo "== package"
cpack --config "$build/CPackConfig.cmake" -G DEB -B "$work/out" >cpack.txt 2>&1 || { show cpack.txt; fail "cpack"; }
deb=$(ls "$work"/out/shimsight_*.deb)
dpkg-deb --info "$deb" >info.txt
dpkg-deb --contents "$deb" >contents.txt
grep -E '^ (Package|Version|Installed-Size|Depends|Recommends|Suggests):' info.txt
grep -qE '^ Depends: .*libc6 \(' info.txt || fail "the package names no libraries that it needs"
for path in ./usr/bin/shimsight ./usr/share/man/man1/shimsight-read.1.gz ./usr/share/man/man1/shimsight-job-add-trial.1.gz \
    ./usr/share/bash-completion/completions/shimsight ./usr/share/zsh/vendor-completions/_shimsight \
    ./lib/systemd/system/shimsight.service ./usr/share/applications/shimsight.desktop ./usr/libexec/shimsight/bench \
    ./usr/share/icons/hicolor/scalable/apps/shimsight.svg ./usr/share/doc/shimsight/copyright ./usr/share/doc/shimsight/NOTICE \
    ./usr/share/doc/shimsight/security.md ./usr/share/shimsight/gear-sets/lab-van-rear-axle-a.json; do
    grep -qE " $path\$" contents.txt || fail "not in the package: $path"
done
# The engine is for developers; nothing of it is in here, and nothing lies outside of /usr and /lib.
! grep -E '\.(h|a|cmake)$' contents.txt || fail "headers or libraries in the package"
! grep -vE ' \./(usr|lib)?(/| |$)' contents.txt | grep -vE ' \./$' || fail "files outside of /usr and /lib"
# Man pages for the program and each command of it.
commands=$("$build/shimsight" --help | sed -n '/^Commands/,/^$/s/^  \([a-z-]*\) .*/\1/p')
[ "$(wc -w <<<"$commands")" -ge 12 ] || fail "the commands were not found in --help"
for command in $commands; do grep -q "/shimsight-$command\.1\.gz" contents.txt || fail "no manual page of $command"; done

if command -v lintian >/dev/null; then
    echo "== lintian"
    lintian --allow-root --fail-on error,warning --tag-display-limit 0 "$deb" >lintian.txt 2>&1 || { show lintian.txt; fail "lintian"; }
    echo "clean"
else
    echo "== lintian is not installed: not asked"
fi

# The gear set and the photos that come with the package.
share=/usr/share/shimsight
reading=(read "$share/samples/van-a-too-shallow/drive.jpg" "$share/samples/van-a-too-shallow/coast.jpg"
    --gear-set "$share/gear-sets/lab-van-rear-axle-a.json" --backlash 0.009in)

root=$work/debian
makeBare() {
    mmdebstrap --variant=minbase --mode=root --aptopt='APT::Install-Recommends "false"' --dpkgopt=force-unsafe-io \
        bookworm "$root" >bare.txt 2>&1 || { show bare.txt; fail "no bare Debian could be made"; }
}

if [ "$bare" = yes ]; then
    makeBare
    echo "== a bare Debian $(cat "$root/etc/debian_version")"
    cp /etc/resolv.conf "$root/etc/resolv.conf"
    mkdir -p "$root/srv/in" && cp "$deb" "$root/srv/in/"
    mount -t proc proc "$root/proc" 2>/dev/null || echo "(without /proc)"
    clean=(env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root LC_ALL=C.UTF-8 DEBIAN_FRONTEND=noninteractive)
    inside() { "${clean[@]}" chroot "$root" "$@"; }
    # All that the package brings or makes would be seen by this list; what its libraries leave is theirs.
    filesNow() { (cd "$root" && find . -xdev -path ./tmp -prune -o -path ./proc -prune -o -path ./srv/in -prune -o -print | grep -i shimsight | sort) || true; }

    inside apt-get -q update >install.txt 2>&1
    inside apt-get -q install -y --no-install-recommends "/srv/in/$(basename "$deb")" >>install.txt 2>&1 || { tail -n 20 install.txt; fail "apt-get install"; }
    echo '$ shimsight --version' && inside shimsight --version | tee version.txt
    holds version.txt "shimsight "
    # Installing starts nothing and enables nothing.
    [ -z "$(find "$root/etc/systemd" -name 'shimsight*' 2>/dev/null)" ] || fail "the service is enabled"
    run() { inside shimsight "$@"; }
else
    echo "== only unpacked: SHIMSIGHT_PACKAGE_BARE=yes installs it on a bare Debian"
    dpkg-deb --extract "$deb" "$root"
    run() { "$root/usr/bin/shimsight" "${@/#$share/$root$share}"; }
    run --version | tee version.txt
    holds version.txt "shimsight "
fi

echo '$ shimsight --licences | head' && run --licences >licences.txt && head -n 3 licences.txt
holds licences.txt "MIT License"
holds licences.txt "GNU libmicrohttpd: LGPL-2.1-or-later"
echo "\$ shimsight ${reading[*]}" && run "${reading[@]}" >read.txt && head -n 24 read.txt
holds read.txt "take out 0.00"
holds read.txt "Pattern measured"

if [ -d "$root/var/lib/dpkg" ]; then
    # The page at the bench answers, from the service's own command line.
    command=$(sed -n 's|^ExecStart=||p' "$root/lib/systemd/system/shimsight.service")
    # shellcheck disable=SC2016
    command=${command//'${STATE_DIRECTORY}'//var/lib/private/shimsight}
    # shellcheck disable=SC2016
    command=${command//'$SHIMSIGHT_OPTIONS'/--port 0}
    "${clean[@]}" chroot "$root" sh -c "exec $command" >serve.txt 2>&1 &
    server=$!
    for _ in $(seq 80); do
        if grep -q http:// serve.txt; then break; fi
        sleep 0.25
    done
    holds serve.txt "http://127.0.0.1:"
    kill "$server"
    wait "$server" || fail "the server ended with $?"
    [ -d "$root/var/lib/private/shimsight/jobs" ] || fail "the service made no folder for jobs"

    echo "== taken away"
    [ -d "$root/var/lib/private/shimsight/jobs/.shimsight-server" ] || fail "the server noted nothing"
    inside apt-get -q purge -y shimsight >purge.txt 2>&1 || { tail -n 20 purge.txt; fail "apt-get purge"; }
    filesNow >left.txt
    [ ! -s left.txt ] || { show left.txt; fail "left after the purge"; }
    echo "nothing is left"
    # Jobs that somebody kept outlive even a purge.
    inside apt-get -q install -y --no-install-recommends "/srv/in/$(basename "$deb")" >>install.txt 2>&1
    jobs=/var/lib/private/shimsight/jobs
    inside mkdir -p "$jobs"
    inside shimsight job new "$jobs/van-12" --gear-set "$share/gear-sets/lab-van-rear-axle-a.json" --axle "Van 12" >/dev/null
    inside apt-get -q purge -y shimsight >purge.txt 2>&1
    grep 'the jobs in /var/lib/private/shimsight stay' purge.txt || fail "purging says nothing of the jobs"
    [ -f "$root$jobs/van-12/job.json" ] || fail "a job was deleted"
    umount "$root/proc" 2>/dev/null || true
fi
rm -rf --one-file-system "$root"
echo "package: all passed"
