"""The process that takes one bench file in: reads it, judges every setup in it, and adds it to its bench.

The one line on standard input says what and where to; for as long as that stays open, whoever started this is
there, and with them it ends. On standard output a line of JSON tells, again and again, how far it is, and the
last one what came in (`came`) or why nothing did (`faults`, the first ones of `count`).

    python -m webapp.command.taking_in
"""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
import traceback
from collections import Counter
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from webapp.hearing.apart import bind, step_back

if TYPE_CHECKING:
    from webapp.setups.bench_file.schema import BenchFile
    from webapp.store.bench_file.arrival import Came

# The largest file there may be takes 25 s and 0.6 GB.
PROCESSOR_S = 600
MEMORY_BYTES = 1_500_000_000
BEAT_S = 0.4
SHOWN = 30
SORTS = ("instruments", "descriptions", "setups", "entries", "air")
NAMES = {"descriptions": "Descriptions of them", "air": "Days of air"}
TOO_LARGE = "This file needs more memory than Benchside gives to one."
READING, JUDGING, ADDING = "reading", "judging", "adding"


class Telling:
    """What is told of it, while it works: the step it is at, and how many of the setups are judged."""

    def __init__(self) -> None:
        self.step, self.done, self.of = READING, 0, 0
        self._one_line = threading.Lock()

    def judged(self) -> None:
        self.done += 1

    def say(self, **told: Any) -> None:
        with self._one_line:
            sys.stdout.buffer.write(json.dumps(told).encode() + b"\n")
            sys.stdout.buffer.flush()

    def keep_on(self) -> None:
        while True:
            self.say(step=self.step, done=self.done, of=self.of)
            threading.Event().wait(BEAT_S)


@dataclass(frozen=True)
class Judged:
    """A file that can be read. `unfit` says of some instruments, by origin, why they are left out."""

    file: BenchFile
    unfit: Mapping[str, str]

    @property
    def fit(self) -> BenchFile:
        kept = tuple(one for one in self.file.instruments if one.origin not in self.unfit)
        return self.file.model_copy(update={"instruments": kept})


def judge(path: str, telling: Telling) -> Judged:
    """Reads a file and lives through all that is in it; raises BadBenchFile."""
    # Everything is loaded here, where others go first.
    from datetime import UTC, datetime
    from pathlib import Path

    import webapp.store.bench_file.merge  # noqa: F401
    from webapp.setups.bench_file.faults import read_bench_file, why_unfit
    from webapp.trade.content import load_trade
    from webapp.web.settings import assets

    now, trade = datetime.now(UTC), load_trade(assets().content)
    file = read_bench_file(Path(path).read_bytes(), now)
    telling.of, telling.step = sum(len(one.setups) for one in file.instruments), JUDGING
    found = {one.origin: why_unfit(one, trade, now, telling.judged) for one in file.instruments}
    return Judged(file, {origin: why for origin, why in found.items() if why})


def add(judged: Judged, address: str, bench_id: str) -> dict[str, Any]:
    """Adds to the bench what it can live with, all in one go; returns the report."""
    from webapp.store.bench_file.merge import load
    from webapp.store.engine import connect, place_at

    return report(judged, load(connect(place_at(address)), bench_id, judged.fit))


def report(judged: Judged, came: Came) -> dict[str, Any]:
    """The counts, with what was left out whole counted too, and the reasons, each said once."""
    from webapp.setups import dates

    left = [one for one in judged.file.instruments if one.origin in judged.unfit]
    more = Counter(instruments=len(left))
    for one in left:
        more.update(descriptions=len(one.versions), setups=len(one.setups), entries=len(one.entries))
    rows = []
    for sort in SORTS:
        count = getattr(came, sort)
        name = NAMES.get(sort, sort.capitalize())
        rows.append((name, count.added, count.there, count.refused + more[sort]))
    names = {one.origin: one.name for one in judged.file.instruments}
    reasons = [f"{names[origin]}: {why}" for origin, why in judged.unfit.items()]
    # Ten entries of one evening that differ are one reason.
    told = dict.fromkeys((one.origin, dates.day(one.at), one.why) for one in came.refusals)
    reasons += [f"{names[origin]}, {on}: {why}" for origin, on, why in told]
    return {"rows": rows, "reasons": reasons[:SHOWN], "more": max(0, len(reasons) - SHOWN)}


def take_in(path: str, address: str, bench: str, telling: Telling) -> dict[str, Any]:
    """What is told in the end."""
    try:
        with ThreadPoolExecutor(1, initializer=step_back) as behind:
            judged = behind.submit(judge, path, telling).result()
        # While this writes, others may have to wait for it; so it waits for nobody.
        telling.step = ADDING
        return {"came": add(judged, address, bench)}
    except MemoryError:
        return {"faults": [TOO_LARGE], "count": 1}
    except Exception as problem:
        faults, count = why_not(problem)
        if not faults:
            raise
        return {"faults": faults, "count": count}


def why_not(problem: Exception) -> tuple[Sequence[str], int]:
    """What to say of the file, or of the disk; nothing where neither is at fault."""
    from webapp.setups.bench_file.faults import BadBenchFile
    from webapp.store.errors import Damaged
    from webapp.store.trouble import DAMAGED, trouble_of

    if isinstance(problem, BadBenchFile):
        return problem.sentences, problem.count
    trouble = DAMAGED if isinstance(problem, Damaged) else trouble_of(problem)
    return ([f"{trouble.title}. {trouble.sentence}"], 1) if trouble else ((), 0)


def main() -> None:
    """Takes the file in that standard input names."""
    # Ctrl+C reaches every process of a terminal; this one ends with the one that started it.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    bind(PROCESSOR_S, MEMORY_BYTES, writes=True)
    told = json.loads(_first_line())
    telling = Telling()
    for work in (_end_with_parent, telling.keep_on):
        threading.Thread(target=work, daemon=True).start()
    status = 0
    try:
        telling.say(**take_in(told["path"], told["address"], told["bench"], telling))
    except Exception:
        traceback.print_exc()
        status = 1
    sys.stderr.flush()
    # Those that wait for the parent or for the next beat are not waited for.
    os._exit(status)


def _first_line() -> bytes:
    """Bare, sign by sign: nothing that comes behind it is taken along."""
    line = b""
    while (sign := os.read(0, 1)) not in (b"", b"\n"):
        line += sign
    return line


def _end_with_parent() -> None:
    while os.read(0, 1):
        pass
    # Whoever comes after them may open the data at once.
    os._exit(1)


if __name__ == "__main__":
    main()
