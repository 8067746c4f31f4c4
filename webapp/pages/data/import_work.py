"""A bench file on its way in: kept on disk, taken in by one process at a time, and what is told of it.

Two files to an import, in the folder of all imports: `.bench` is what was sent, gone when it was taken in;
`.came` says whose it is, how far it is, and in the end what came in or why nothing did. Whoever waits or
works writes or touches that every moment, so one that a killed process left behind is known for what it is.
Any process of this Benchside can read it.
"""

from __future__ import annotations

import json
import logging
import os
import re
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import Any, BinaryIO

from webapp.hearing.apart import start
from webapp.pages.visit.uploads import folder_of, spool
from webapp.store.engine import address_of
from webapp.store.errors import InUse
from webapp.store.lock import hold
from webapp.web.state import AppState
from webapp.web.stopping import STOPPING

LOG = logging.getLogger("benchside")
CHILD = "webapp.command.taking_in"
IN_THE_ROW = 12
MOST_REPORTS = 200
# Whose turn it is to be taken in; the lock lies beside it.
TURN = "turn"
BEAT_S, SILENT_S = 0.3, 15.0
LONGEST_S = 1800.0
_TOKEN = re.compile(r"[\w-]{12}", re.ASCII)
_ROOM = threading.Lock()


class Waits(Exception):
    """It cannot be taken on now; `mine` is what the same bench has on its way already, if that is why."""

    def __init__(self, mine: str = "") -> None:
        super().__init__(mine or "the row is full")
        self.mine = mine


class Step(StrEnum):
    """How far it is."""

    WAITING = "waiting"
    READING = "reading"
    JUDGING = "judging"
    ADDING = "adding"
    DONE = "done"
    REFUSED = "refused"
    CUT_OFF = "cut off"


ENDED = (Step.DONE, Step.REFUSED, Step.CUT_OFF)
Rows = tuple[tuple[str, int, int, int], ...]


@dataclass(frozen=True)
class Import:
    """A file of a bench, and how far it is: `done` of `of` setups were judged. In the end, what came in (each
    row: what, how many were added, were there already, were left out), or the first of `count` faults."""

    bench: str
    file_name: str
    sent_at: float
    step: Step = Step.WAITING
    done: int = 0
    of: int = 0
    rows: Rows = ()
    reasons: tuple[str, ...] = ()
    more: int = 0
    faults: tuple[str, ...] = ()
    count: int = 0

    @property
    def has_ended(self) -> bool:
        return self.step in ENDED

    def with_told(self, told: dict[str, Any]) -> Import:
        """As the child tells it."""
        if "came" in told:
            return replace(self, step=Step.DONE, **_in_tuples(told["came"]))
        if "faults" in told:
            return replace(self, step=Step.REFUSED, **_in_tuples(told))
        return replace(self, **told | {"step": Step(told["step"])})


def _in_tuples(told: dict[str, Any]) -> dict[str, Any]:
    return {
        name: tuple(tuple(one) if isinstance(one, list) else one for one in value)
        if isinstance(value, list)
        else value
        for name, value in told.items()
    }


class Imports:
    """The bench files that are on their way, or came in today, in one data folder."""

    def __init__(self, app: AppState) -> None:
        self._app, self._folder = app, folder_of(app.settings)

    def keep(self, bench_id: str, file_name: str, source: BinaryIO) -> str:
        """Takes a file on, and begins with it in its turn; returns its name in addresses.

        Raises Waits, and OSError where the disk is full.
        """
        spooled = spool(self._app.settings, source)
        token = spooled.path.stem
        try:
            with _ROOM:
                mine = self.of_bench(bench_id)
                if mine or len(list(self._on_their_way())) >= IN_THE_ROW:
                    raise Waits(mine)
                self._write(token, Import(bench_id, file_name, time.time()))
            spooled.path.rename(self._file(token))
        except (Waits, OSError):
            spooled.path.unlink(missing_ok=True)
            self._about(token).unlink(missing_ok=True)
            raise
        self._thin()
        threading.Thread(target=self._run, args=(token,), daemon=True, name="import").start()
        return token

    def of_bench(self, bench_id: str) -> str:
        """What a bench has on its way; empty where it has nothing."""
        for token in self._on_their_way():
            found = self._read(token)
            if found is not None and found.bench == bench_id:
                return token
        return ""

    def find(self, bench_id: str, token: str) -> Import | None:
        """A bench's import; None where it has none such (any more)."""
        found = self._read(token) if _TOKEN.fullmatch(token) else None
        if found is None or found.bench != bench_id:
            return None
        if found.has_ended or self._is_fresh(token):
            return found
        return replace(found, step=Step.CUT_OFF)

    def _run(self, token: str) -> None:
        """Waits for its turn, has it taken in, and tells what came of it, whatever happens."""
        try:
            while not self._done_in_its_turn(token):
                os.utime(self._about(token))
                if STOPPING.wait(BEAT_S):
                    self._cut_off(token)
                    return
        except Exception:
            LOG.exception("a bench file could not be taken in")
            self._cut_off(token)

    def _done_in_its_turn(self, token: str) -> bool:
        """False where it is another one's turn."""
        try:
            with hold(self._folder / TURN):
                if token != self._first():
                    return False
                self._take_in(token)
                return True
        except InUse:
            return False

    def _first(self) -> str:
        """Which of all that wait was sent first."""
        sent = [(found.sent_at, one) for one in self._on_their_way() if (found := self._read(one))]
        return min(sent)[1] if sent else ""

    def _take_in(self, token: str) -> None:
        about = self._read(token)
        assert about is not None, "whoever runs it wrote it"
        wanted = {
            "path": str(self._file(token)), "bench": about.bench, "address": address_of(self._app.engine),
        }  # fmt: skip
        with start(CHILD, stdin=subprocess.PIPE) as child:
            try:
                assert child.stdin is not None
                child.stdin.write(json.dumps(wanted).encode() + b"\n")
                child.stdin.flush()
                self._follow(token, about, child)
            finally:
                child.kill()

    def _follow(self, token: str, about: Import, child: subprocess.Popen[bytes]) -> None:
        """Writes down what the child tells, to the end; one that takes too long, or dies, is cut off."""
        assert child.stdout is not None and child.stderr is not None
        until = time.monotonic() + LONGEST_S
        for line in child.stdout:
            about = about.with_told(json.loads(line))
            self._write(token, about)
            if about.has_ended:
                return
            if STOPPING.is_set() or time.monotonic() > until:
                break
        child.kill()
        self._cut_off(token)
        if not STOPPING.is_set():
            words = child.stderr.read()[-2000:].decode("utf-8", "replace")
            LOG.error("taking a bench file in ended with status %s: %s", child.wait(), words)

    def _cut_off(self, token: str) -> None:
        about = self._read(token)
        if about is not None:
            self._write(token, replace(about, step=Step.CUT_OFF))

    def _on_their_way(self) -> Iterator[str]:
        for path in self._folder.glob("*.came"):
            about = self._read(path.stem) if self._is_fresh(path.stem) else None
            if about is not None and not about.has_ended:
                yield path.stem

    def _is_fresh(self, token: str) -> bool:
        """Whether somebody still waits for it or works at it."""
        try:
            return abs(time.time() - self._about(token).stat().st_mtime) < SILENT_S
        except FileNotFoundError:
            return False

    def _thin(self) -> None:
        """So many reports are kept."""
        written = []
        for path in self._folder.glob("*.came"):
            with suppress(FileNotFoundError):
                written.append((path.stat().st_mtime, path))
        for _, path in sorted(written, reverse=True)[MOST_REPORTS:]:
            path.unlink(missing_ok=True)

    def _file(self, token: str) -> Path:
        return self._folder / f"{token}.bench"

    def _about(self, token: str) -> Path:
        return self._folder / f"{token}.came"

    def _read(self, token: str) -> Import | None:
        """None where there is none (any more), or one that another version wrote."""
        try:
            told = json.loads(self._about(token).read_bytes())
            return Import(**_in_tuples(told) | {"step": Step(told["step"])})
        except (FileNotFoundError, ValueError, KeyError, TypeError):
            return None

    def _write(self, token: str, about: Import) -> None:
        """Whole or not at all. When it is over, what was sent is not needed any more."""
        if about.has_ended:
            self._file(token).unlink(missing_ok=True)
        part = self._about(token).with_suffix(".told")
        with os.fdopen(os.open(part, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, 0o600), "wb") as file:
            file.write(json.dumps(asdict(about)).encode())
        part.replace(self._about(token))
