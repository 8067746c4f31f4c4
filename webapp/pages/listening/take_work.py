"""A take on its way: kept on disk until it was listened to, by one process at a time; then what is shown.

Three files to a take, named by its bench and itself: `.json` says what was asked and, in the end, what was
heard; `.sound` is the recording, gone as soon as it was listened to. Whoever waits or listens touches it
every moment, so that one left behind by a killed process is known for what it is. `.heard` are its plain
samples, so that a note can be heard again until the take is recorded or dropped, or another one is sent.
"""

from __future__ import annotations

import json
import logging
import math
import os
import re
import secrets
import subprocess
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Any, BinaryIO

from webapp.hearing.answers import Answer, packed, unpacked
from webapp.hearing.apart import start
from webapp.hearing.decoding import LONGEST_S as LONGEST_TAKE_S
from webapp.hearing.decoding import RATE_HZ
from webapp.setups.listening import Asked, Place
from webapp.store.errors import InUse
from webapp.store.lock import hold, lock_file

LOG = logging.getLogger("benchside")
CHUNK = 65_536
SOUND_BYTES = 64_000_000
# How many may wait: of one bench, and of all.
EACH, TOGETHER = 2, 6
# How many can be heard again, of all benches (a bench has as many as may wait), and how much at one time.
HEARD_TOGETHER = 40
SAMPLE_BYTES = 2
PIECE_S = 6.0
# Whose turn it is to listen; the lock lies beside it.
TURN = "turn"
TURN_LOCK = lock_file(Path(TURN)).name
BEAT_S, SILENT_S = 0.2, 20.0
LONGEST_S = 300.0
KEPT_S = 24 * 3600
BROKEN = "Something went wrong while listening. Try it again, or type what a tuner shows."
_ID = re.compile(r"[\w-]{12}", re.ASCII)
_ROOM = threading.Lock()


class NoRoom(Exception):
    """As many takes as may wait are waiting."""


class TooLarge(Exception):
    """The file has more bytes than a take may have."""


class TakeState(StrEnum):
    """How far it is."""

    LISTENING = "listening"
    DONE = "done"
    CUT_OFF = "cut off"


@dataclass(frozen=True)
class TakeJob:
    """A take of a setup: its name in addresses, what it was asked for and when, and what was heard."""

    id: str
    setup_id: str
    what: str
    at: datetime
    state: TakeState
    answer: Answer


class Takes:
    """The takes that lie in one data folder."""

    def __init__(self, data: Path) -> None:
        self.folder = data / "takes"

    def keep(
        self,
        bench_id: str,
        setup_id: str,
        what: str,
        asked: Sequence[Asked],
        buzz: bool,
        source: BinaryIO,
        at: datetime,
    ) -> str:
        """Take in a recording and begin to listen to it; returns the take's id.

        Raises NoRoom where others must be listened to first, TooLarge, and OSError where the disk is full.
        """
        self.folder.mkdir(mode=0o700, exist_ok=True)
        self.sweep()
        take_id = secrets.token_urlsafe(9)
        told = {"setup": setup_id, "what": what, "asked": list(asked), "buzz": buzz, "at": at.isoformat()}
        sound = self._sound(bench_id, take_id)
        with _ROOM:
            waiting = [path for path in self.folder.glob("*.sound") if _is_fresh(path)]
            own = [path for path in waiting if path.name.startswith(f"{bench_id}.")]
            if len(own) >= EACH or len(waiting) >= TOGETHER:
                raise NoRoom
            sound.touch(mode=0o600)
        for old in self.folder.glob(f"{bench_id}.*.heard"):
            old.unlink(missing_ok=True)
        try:
            _copy(source, sound)
            self._write(bench_id, take_id, told)
        except (OSError, TooLarge):
            sound.unlink(missing_ok=True)
            raise
        threading.Thread(target=self._listen, args=(bench_id, take_id), daemon=True, name="listen").start()
        return take_id

    def find(self, bench_id: str, take_id: str) -> TakeJob | None:
        """A bench's take; None where it has none such (any more), or one that another version wrote."""
        told = self._told(bench_id, take_id)
        try:
            return None if told is None else self._job(bench_id, take_id, told)
        except (KeyError, TypeError, ValueError):
            return None

    def _job(self, bench_id: str, take_id: str, told: dict[str, Any]) -> TakeJob:
        answer = unpacked(told["answer"]) if "answer" in told else Answer()
        state = TakeState.DONE
        if "answer" not in told:
            fresh = _is_fresh(self._sound(bench_id, take_id))
            state = TakeState.LISTENING if fresh else TakeState.CUT_OFF
        at = datetime.fromisoformat(told["at"])
        return TakeJob(take_id, told["setup"], told["what"], at, state, answer)

    def marks(self, bench_id: str, setup_id: str, since: datetime | None) -> frozenset[Place]:
        """(string, fret) of the notes of a setup that were heard to buzz, in takes after `since`."""
        ids = [path.name.split(".")[1] for path in self.folder.glob(f"{bench_id}.*.json")]
        jobs = [job for job in (self.find(bench_id, one) for one in ids) if job and job.setup_id == setup_id]
        return frozenset(
            place for job in jobs if since is None or job.at > since for place in job.answer.marks or ()
        )

    def drop(self, bench_id: str, take_id: str) -> None:
        """Forget a take; whoever listens to it stops."""
        self._sound(bench_id, take_id).unlink(missing_ok=True)
        self._about(bench_id, take_id).unlink(missing_ok=True)
        self.hush(bench_id, take_id)

    def hush(self, bench_id: str, take_id: str) -> None:
        """Forget the sound of a take, and keep what was heard in it."""
        self._heard(bench_id, take_id).unlink(missing_ok=True)

    def can_hear(self, bench_id: str, take_id: str) -> bool:
        """Whether its sound is still there; a day old it is not."""
        try:
            since = self._heard(bench_id, take_id).stat().st_mtime
        except FileNotFoundError:
            return False
        return abs(time.time() - since) < KEPT_S

    def piece(self, bench_id: str, take_id: str, from_s: float, to_s: float) -> bytes:
        """The samples of a take that was found, between two times, PIECE_S at most; 16 bits at RATE_HZ.

        Empty where the sound is there no more, or has nothing between them.
        """
        if not 0 <= from_s < to_s < math.inf or not self.can_hear(bench_id, take_id):
            return b""
        first = SAMPLE_BYTES * round(min(from_s, LONGEST_TAKE_S) * RATE_HZ)
        try:
            with self._heard(bench_id, take_id).open("rb") as file:
                file.seek(first)
                return file.read(SAMPLE_BYTES * math.ceil(min(to_s - from_s, PIECE_S) * RATE_HZ))
        except FileNotFoundError:
            return b""

    def _about(self, bench_id: str, take_id: str) -> Path:
        return self.folder / f"{bench_id}.{take_id}.json"

    def _sound(self, bench_id: str, take_id: str) -> Path:
        return self.folder / f"{bench_id}.{take_id}.sound"

    def _heard(self, bench_id: str, take_id: str) -> Path:
        return self.folder / f"{bench_id}.{take_id}.heard"

    def _told(self, bench_id: str, take_id: str) -> dict[str, Any] | None:
        if not _ID.fullmatch(take_id):
            return None
        try:
            told: dict[str, Any] = json.loads(self._about(bench_id, take_id).read_bytes())
        except FileNotFoundError:
            return None
        return told

    def _write(self, bench_id: str, take_id: str, told: dict[str, Any]) -> None:
        """Whole or not at all."""
        path = self._about(bench_id, take_id)
        part = path.with_suffix(".part")
        _put(part, json.dumps(told).encode())
        part.replace(path)

    def _keep_sound(self, bench_id: str, take_id: str, sound: bytes) -> None:
        """Where the disk has no room for it, what was heard counts all the same."""
        path = self._heard(bench_id, take_id)
        if not 0 < len(sound) <= SAMPLE_BYTES * (LONGEST_TAKE_S + 1) * RATE_HZ:
            return
        try:
            _put(path, sound)
        except OSError:
            LOG.warning("the sound of a take could not be kept")
            path.unlink(missing_ok=True)
        for old in sorted(self.folder.glob("*.heard"), key=_written)[:-HEARD_TOGETHER]:
            old.unlink(missing_ok=True)

    def sweep(self) -> None:
        """What nobody came back to, and what a killed process left; at each start and before each take."""
        for old in self.folder.iterdir() if self.folder.is_dir() else ():
            try:
                kept_s = KEPT_S if old.suffix in (".json", ".heard") else SILENT_S
                if abs(time.time() - old.stat().st_mtime) > kept_s and old.name != TURN_LOCK:
                    old.unlink()
            except FileNotFoundError:
                continue

    def _listen(self, bench_id: str, take_id: str) -> None:
        """Waits for its turn, listens, and keeps the answer, whatever happens."""
        sound = self._sound(bench_id, take_id)
        try:
            while True:
                os.utime(sound)
                try:
                    with hold(self.folder / TURN):
                        told = self._told(bench_id, take_id) or {}
                        told["answer"], plain = _heard(sound, told)
                        sound.stat()  # still wanted
                        self._keep_sound(bench_id, take_id, plain)
                        self._write(bench_id, take_id, told)
                        sound.unlink()
                        return
                except InUse:
                    time.sleep(BEAT_S)
        except FileNotFoundError:
            self.hush(bench_id, take_id)  # dropped meanwhile
        except Exception:
            # Without its file it will be found silent, and said to be cut off.
            LOG.exception("a take could not be listened to")
            sound.unlink(missing_ok=True)
            self.hush(bench_id, take_id)


def _is_fresh(sound: Path) -> bool:
    """Whether somebody still waits for it or listens to it."""
    try:
        return abs(time.time() - sound.stat().st_mtime) < SILENT_S
    except FileNotFoundError:
        return False


def _written(path: Path) -> float:
    """When, in seconds; long ago where it went meanwhile."""
    try:
        return path.stat().st_mtime
    except FileNotFoundError:
        return 0.0


def _put(path: Path, content: bytes) -> None:
    with os.fdopen(os.open(path, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, 0o600), "wb") as file:
        file.write(content)


def _copy(source: BinaryIO, path: Path) -> None:
    size = 0
    with path.open("wb") as target:
        while piece := source.read(CHUNK):
            size += len(piece)
            if size > SOUND_BYTES:
                raise TooLarge
            target.write(piece)


def _heard(sound: Path, told: dict[str, Any]) -> tuple[dict[str, Any], bytes]:
    """The child's answer, packed, and the samples to be heard again.

    Raises FileNotFoundError where the take was dropped meanwhile.
    """
    told = {"asked": told["asked"], "buzz": told["buzz"]}
    with sound.open("rb") as file, start("webapp.hearing.child", json.dumps(told), stdin=file) as child:
        try:
            out, said = _waited(child, sound)
        finally:
            child.kill()
    line, _, plain = out.partition(b"\n")
    try:
        return packed(unpacked(json.loads(line))), plain
    except (ValueError, KeyError, TypeError):
        words = said[-2000:].decode("utf-8", "replace")
        LOG.error("listening ended with status %s: %s", child.returncode, words)
        return packed(Answer(refused=BROKEN)), b""


def _waited(child: subprocess.Popen[bytes], sound: Path) -> tuple[bytes, bytes]:
    """What the child says; one that takes too long is stopped, and says nothing."""
    until = time.monotonic() + LONGEST_S
    while time.monotonic() < until:
        os.utime(sound)
        try:
            return child.communicate(timeout=BEAT_S)
        except subprocess.TimeoutExpired:
            continue
    return b"", b"it took too long"
