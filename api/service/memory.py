"""What a process holds, and giving back what it no longer needs."""

from __future__ import annotations

import ctypes
import gc
import re
import threading
import time
from pathlib import Path
from typing import Final

LOOK: Final = 2.0
"""Between looks at what a process holds [s]."""
TIDY: Final = 0.6
"""Of the limit on it, from where it is tidied at every look."""
GROWN: Final = 16e6
"""Growth from which a process that no supervisor replaces is tidied under way [bytes]."""
STILL: Final = 1e6
"""Change between two looks up to which a process is at rest [bytes]."""
_TRIM_FROM: Final = 1_000_000  # bytes
ONE_POOL: Final = {"MALLOC_ARENA_MAX": "1", "MALLOC_TRIM_THRESHOLD_": str(_TRIM_FROM)}
"""Has the C library keep one pool of memory rather than one for each thread, and give back what is
free: half of what a worker came to hold lay about in pools."""
_M_TRIM_THRESHOLD, _M_ARENA_MAX = -1, -8  # malloc.h of glibc


def own_memory(process: int | None = None) -> float:
    """Memory that a process holds beside what it shares with others [bytes]; 0 if not told."""
    try:
        told = Path(f"/proc/{process or 'self'}/smaps_rollup").read_text("ascii")
    except OSError:
        return 0.0
    return sum(int(each) * 1024.0 for each in re.findall(r"^Private_Dirty: +(\d+) kB", told, re.M))


def give_back() -> None:
    """Have the C library give free memory back, where it can (glibc), rubbish in circles too.

    A document leaves some 30 MB in circles, which the collector would come to much later.
    """
    gc.collect()
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
    if trim is not None:
        trim(0)


def give_back_circles() -> None:
    """Free what lies in circles of a document just made, which holds its fonts and pictures.

    It is among what the collector has seen once at most, so that looking there takes some 6 ms;
    left to the collector, the next documents are made beside it.
    """
    gc.collect(1)


def keep_one_pool() -> None:
    """Have this process do as `ONE_POOL` says, before it starts threads."""
    option = getattr(ctypes.CDLL(None), "mallopt", None)
    if option is not None:  # glibc
        option(_M_ARENA_MAX, 1)
        option(_M_TRIM_THRESHOLD, _TRIM_FROM)


def keep_tidy() -> None:
    """Tidy this process when it has grown and when it comes to rest; where none supervises it."""

    def look() -> None:
        tidy = last = own_memory()
        while True:
            time.sleep(LOOK)
            own = own_memory()
            at_rest = abs(own - last) < STILL < abs(own - tidy)
            if own - tidy > GROWN or at_rest:
                give_back()
                own = tidy = own_memory()
            last = own

    threading.Thread(target=look, daemon=True).start()
