"""How a process that serves asks its system for memory: the same with one process and with several."""

from __future__ import annotations

import os
import sys
from contextlib import suppress

# glibc's names for them (malloc.h). One heap for each thread, and large blocks that are handed back and asked
# for again with every page, would add a third to what a process takes.
_ARENA_MAX, _MMAP_THRESHOLD, _TRIM_THRESHOLD = -8, -3, -1
_WANTED = ((_ARENA_MAX, 1), (_MMAP_THRESHOLD, 196_608), (_TRIM_THRESHOLD, 2_097_152))


def settle() -> bool:
    """To be called before threads and NumPy are there; says whether the C library took it."""
    # The threads of the pages have the cores already, and no sum here is large.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if sys.platform != "linux":
        return False
    with suppress(ImportError, AttributeError, OSError):
        import ctypes

        mallopt = ctypes.CDLL(None).mallopt
        return all(mallopt(name, value) == 1 for name, value in _WANTED)
    return False


def give_back() -> bool:
    """Hands back what lies empty between what is in use; says whether there was any. About a millisecond."""
    if sys.platform != "linux":
        return False
    with suppress(ImportError, AttributeError, OSError):
        import ctypes

        return bool(ctypes.CDLL(None).malloc_trim(0))
    return False
