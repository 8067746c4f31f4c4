"""A Ctrl+C is heard from the first moment on, and never lost.

Python turns it into an exception wherever the program happens to be; in the middle of a module that is
being loaded, or of the collector's work, it may be swallowed there. So that it was pressed is also written
down, and looked up before anything is served.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

# On a busy computer a module may take longer to load than anybody waits.
ENDS_WITHIN_S = 3.0
_pressed = threading.Event()


def was_asked() -> bool:
    """Whether this start was told to stop."""
    return _pressed.is_set()


@contextmanager
def heard() -> Iterator[None]:
    """From here on it is written down. Where somebody else decides about the key, they go on to."""
    usual = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or usual is not signal.default_int_handler:
        yield
        return
    _pressed.clear()
    signal.signal(signal.SIGINT, _press)
    try:
        yield
    finally:
        _within(0)
        signal.signal(signal.SIGINT, usual)


def _press(_signal: int, _frame: FrameType | None) -> None:
    _pressed.set()
    _within(ENDS_WITHIN_S)
    raise KeyboardInterrupt


def _within(seconds: float) -> None:
    """Lets the system end this process after so long, wherever it is then (0: not at all). What is kept is
    whole at every moment."""
    if hasattr(signal, "setitimer") and signal.getsignal(signal.SIGALRM) is signal.SIG_DFL:
        signal.setitimer(signal.ITIMER_REAL, seconds)
