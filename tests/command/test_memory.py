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
