"""How this process keeps memory that arrays were freed from."""

import ctypes
import sys
from functools import cache
from typing import Final

# The numbers of glibc's malloc.h; its mallopt takes no more than 32 MB for the second.
_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
MB: Final = 1 << 20


@cache
def keep_freed_memory() -> None:
    """Keep up to 256 MB of freed memory for what comes next, from now on.

    Usually glibc gives each freed array back to the system and asks for the next one anew; the
    system then clears it page by page, which takes a fifth of the time of reading a million shots.
    Where the C library is another one nothing is done.
    """
    if not sys.platform.startswith("linux"):
        return
    mallopt = getattr(ctypes.CDLL(None), "mallopt", None)
    if mallopt is not None:
        mallopt(_TRIM_THRESHOLD, 256 * MB)
        mallopt(_MMAP_THRESHOLD, 32 * MB)
