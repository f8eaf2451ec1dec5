# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""What one run of a program costs, for the benches of the review."""

import os
import sys
import time


def process_cost(words, cores=None):
    """Runs it, on so many processors where that is said, its standard output thrown away.

    Wall clock, processor time (s) and peak memory (MB). Ends this program when it fails."""
    start = time.monotonic()
    pid = os.fork()
    if pid == 0:
        if cores:
            os.sched_setaffinity(0, set(sorted(os.sched_getaffinity(0))[:cores]))
        with open(os.devnull, "wb") as nowhere:
            os.dup2(nowhere.fileno(), 1)
        os.execv(words[0], [str(word) for word in words])
    _, status, usage = os.wait4(pid, 0)
    if status != 0:
        sys.exit("the review failed")
    return time.monotonic() - start, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024
