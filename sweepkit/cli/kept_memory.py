"""Memory of arrays stays with the process: to give it back and fetch it again costs more than many of our formulas."""

from __future__ import annotations

import sys

# Numbers of mallopt's options in malloc.h of the GNU C library, and their values [bytes]
TRIM_THRESHOLD, MMAP_THRESHOLD = -1, -3
MOST_UNUSED = 1 << 27  # at the end of the heap, before it goes back; our own choice
LARGEST_IN_HEAP = 1 << 25  # the largest that the library itself would come to (mallopt(3))


def keep_memory() -> None:
    """Ask the GNU C library for it; elsewhere nothing is done."""
    if sys.platform != "linux":
        return
    import ctypes  # which numpy loads anyway

    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (AttributeError, OSError):  # another C library
        return
    mallopt(MMAP_THRESHOLD, LARGEST_IN_HEAP)
    mallopt(TRIM_THRESHOLD, MOST_UNUSED)
