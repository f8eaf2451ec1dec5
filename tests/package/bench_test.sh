#!/usr/bin/env bash
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# The launcher of the desktop entry: starts one server, opens its page, finds it again, stops it.
#   bench_test.sh SHIMSIGHT BENCH
set -euo pipefail
program=$(realpath "$1") bench=$(realpath "$2")
work=$(mktemp -d)
fail() {
    echo "FAILED: $*" >&2
    exit 1
}
end() {
    "$bench" --stop 2>/dev/null || true
    rm -rf "$work"
}
trap end EXIT

# A browser that writes down what it is to open, and goes on running for a while, as browsers do.
mkdir -p "$work/bin" "$work/home" "$work/run"
ln -s "$program" "$work/bin/shimsight"
# shellcheck disable=SC2016
printf '#!/bin/sh\necho "$1" >>"%s/opened"\nsleep 2\n' "$work" >"$work/bin/xdg-open"
chmod +x "$work/bin/xdg-open"
export PATH=$work/bin:/usr/bin:/bin HOME=$work/home XDG_RUNTIME_DIR=$work/run
unset XDG_DATA_HOME
said=$work/run/shimsight-bench/said

"$bench" 9>&-
address=$(sed -n 1p "$work/opened")
[[ $address =~ ^http://127\.0\.0\.1:[0-9]+/#?.*[0-9a-f]{32} ]] || fail "opened: $address"
server=$(cat "$work/run/shimsight-bench/server")
python3 - "$address" <<'PY' || fail "the page does not answer"
import sys, urllib.request
page = urllib.request.urlopen(sys.argv[1].split("#")[0], timeout=10).read().decode()
assert "<title>" in page, page[:200]
PY
[ -d "$work/home/.local/share/shimsight/jobs" ] || fail "no folder for jobs"

# Twice at once: the same page, no second server.
"$bench" & "$bench"
wait
[ "$(sort "$work/opened" | uniq -c | sed 's/ *\([0-9]*\).*/\1/')" = 3 ] || fail "opened: $(cat "$work/opened")"
[ "$(cat "$work/run/shimsight-bench/server")" = "$server" ] || fail "another server was started"

"$bench" --stop
for _ in $(seq 60); do
    kill -0 "$server" 2>/dev/null || break
    sleep 0.25
done
! kill -0 "$server" 2>/dev/null || fail "the server runs on"
"$bench" --stop || fail "stopping what does not run is no fault"

# After that a new one with a new code; and a server that cannot start is told, not waited for.
"$bench"
[ "$(sort -u "$work/opened" | wc -l)" = 2 ] || fail "no new address"
"$bench" --stop
for _ in $(seq 60); do
    flock -n "$work/run/shimsight-bench/lock" true && break
    sleep 0.25
done
rm -r "$work/home/.local/share/shimsight/jobs"
printf '#!/bin/sh\necho "shimsight: no room." >&2\nexit 1\n' >"$work/shimsight"
chmod +x "$work/shimsight" && mv "$work/shimsight" "$work/bin/shimsight"
! "$bench" 2>"$work/told" || fail "a server that does not start is no success"
grep -q "did not start.*no room" "$work/told" || fail "told: $(cat "$work/told"; cat "$said")"
echo "bench: all passed"
