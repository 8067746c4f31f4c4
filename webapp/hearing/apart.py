"""A process of its own for what somebody sent: how it is started, and how it binds its own hands."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import IO

import webapp

OPEN_FILES = 64
# Other pages come first.
NICENESS = 10


def start(module: str, *arguments: str, stdin: int | IO[bytes]) -> subprocess.Popen[bytes]:
    """Starts a module of ours; what it says is there to be read."""
    top = str(Path(webapp.__file__).parent.parent)
    path = os.pathsep.join(filter(None, (top, os.environ.get("PYTHONPATH"))))
    # One core and no more: the pages need the others.
    surroundings = os.environ | {"PYTHONPATH": path, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    return subprocess.Popen(
        [sys.executable, "-B", "-m", module, *arguments],
        stdin=stdin,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=surroundings,
    )


def bind(processor_s: int, memory_bytes: int, *, writes: bool = False) -> None:
    """Bounds this process in processor time, memory and open files, and, unless it `writes`, to not one byte
    into a file. (Windows has none of these; there who started this bounds the time alone.)"""
    if sys.platform == "win32":
        return
    import resource

    for what, most in (
        (resource.RLIMIT_CPU, processor_s),
        (resource.RLIMIT_CORE, 0),
        (resource.RLIMIT_NOFILE, OPEN_FILES),
        *(() if writes else ((resource.RLIMIT_FSIZE, 0),)),
        *(((resource.RLIMIT_AS, memory_bytes),) if sys.platform == "linux" else ()),
    ):
        resource.setrlimit(what, (most, most))


def step_back() -> None:
    """Lets others go first: on Linux this thread, elsewhere the whole process."""
    if sys.platform != "win32":
        os.nice(NICENESS)
