"""The C library takes what it is asked, and threads then share one heap."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import webapp

TOP = Path(webapp.__file__).parent.parent
HEAPS = """
import ctypes, os, threading
from webapp.command.memory import settle
told = {told}
done = settle() if told else True
def work():
    blocks = [ctypes.CDLL(None).malloc(5000) for _ in range(200)]
threads = [threading.Thread(target=work) for _ in range(6)]
gate = [one.start() for one in threads], [one.join() for one in threads]
maps = open("/proc/self/maps").read().splitlines()
# A heap of its own takes 64 MB of addresses, most of them not in use yet.
own = [m for m in maps if m.split()[1] == "---p" and m.split()[4] == "0" and len(m.split()) == 5
       and 32 << 20 < int(m.split()[0].split("-")[1], 16) - int(m.split()[0].split("-")[0], 16) < 65 << 20]
print(done, len(own))
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the C library of Linux")
def test_threads_share_one_heap() -> None:
    def told(settled: bool) -> list[str]:
        script = HEAPS.format(told=settled)
        done = subprocess.run(
            [sys.executable, "-c", script], cwd=TOP, capture_output=True, text=True, check=True
        )
        return done.stdout.split()

    assert told(True) == ["True", "0"]
    assert int(told(False)[1]) > 0


HOLES = """
from webapp.command.memory import give_back, settle
settle()
resident = lambda: int(open("/proc/self/statm").read().split()[1]) * 4096
import ctypes
libc = ctypes.CDLL(None)
libc.malloc.restype = ctypes.c_void_p
libc.free.argtypes = [ctypes.c_void_p]
blocks = [libc.malloc(4000) for _ in range(20_000)]
for block in blocks:
    ctypes.memset(block, 1, 4000)
last = blocks.pop()
for block in blocks:
    libc.free(block)
full = resident()
print(give_back(), (full - resident()) // 1_000_000)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the C library of Linux")
def test_what_lies_empty_below_what_is_in_use_is_handed_back() -> None:
    done = subprocess.run([sys.executable, "-c", HOLES], cwd=TOP, capture_output=True, text=True, check=True)
    gave, megabytes = done.stdout.split()
    assert gave == "True" and int(megabytes) > 50
