"""The file of an import on its way: kept on disk, read by a thread, added at the end or not at all."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Collection, Iterator, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO

from webapp.pages.visit.uploads import CHUNK, folder_of
from webapp.setups.air_log.columns import lines_of
from webapp.setups.air_log.csv_reading import Gathered, Plan, rows
from webapp.store.air_log import imports
from webapp.store.air_log.imports import JobOver
from webapp.store.engine import writing
from webapp.web.state import AppState

LOG = logging.getLogger("benchside")
BEAT_SECONDS = 0.4
ROWS_BETWEEN_LOOKS = 500
# Waiting for a word on their columns; the one that came last is always kept.
FILES_OF_A_BENCH, BYTES_OF_A_BENCH = 4, 150_000_000
FILES_OF_ALL, BYTES_OF_ALL = 40, 1_000_000_000
NONE_GOOD = "Not one line of this file could be used, so nothing was added. The reasons are below."
NO_LINES = "Below its heading this file has no lines, so nothing was added."
FILE_GONE = "The uploaded file could not be read any more, so nothing was added. Choose it again."
BROKEN = "Something went wrong on this side, so nothing was added. Try it again."


def kept_file(app: AppState, job_id: str) -> Path:
    """Where a job's file lies."""
    return folder_of(app.settings) / f"{job_id}.csv"


def head_of(app: AppState, job_id: str, size: int) -> bytes:
    """The first bytes of a job's file; raises OSError where it is no longer kept."""
    with kept_file(app, job_id).open("rb") as file:
        return file.read(size)


def make_room(app: AppState, mine: Collection[str]) -> None:
    """The oldest files go where the jobs `mine` of one bench have too many, or all benches together.

    Of a file that is gone the page says so; it can be chosen again.
    """
    kept = []
    for file in folder_of(app.settings).glob("*.csv"):
        with suppress(FileNotFoundError):
            told = file.stat()
            kept.append((told.st_mtime, told.st_size, file))
    kept.sort(reverse=True)
    _thin([one for one in kept if one[2].stem in mine], FILES_OF_A_BENCH, BYTES_OF_A_BENCH)
    _thin(kept, FILES_OF_ALL, BYTES_OF_ALL)


def _thin(newest_first: Sequence[tuple[float, int, Path]], most: int, most_bytes: int) -> None:
    size = 0
    for number, (_, bytes_of_it, file) in enumerate(newest_first):
        size += bytes_of_it
        if number and (number >= most or size > most_bytes):
            # Where one is being read just now, some systems keep it until that is done.
            with suppress(OSError):
                file.unlink()


def start(app: AppState, bench_id: str, job_id: str, plan: Plan) -> None:
    """Reads the file in the background. A daemon: stopping the app never waits, it cuts the import off."""
    threading.Thread(target=run, args=(app, bench_id, job_id, plan), daemon=True, name="import").start()


def run(app: AppState, bench_id: str, job_id: str, plan: Plan) -> None:
    """Reads the file and ends the job, whatever happens; only a job that is done adds anything."""
    try:
        gathered = _gather(app, bench_id, job_id, plan)
        _end(app, bench_id, job_id, gathered)
    except JobOver:
        return
    except Exception as problem:
        LOG.exception("an import failed")
        _give_up(app, bench_id, job_id, FILE_GONE if isinstance(problem, FileNotFoundError) else BROKEN)


def _gather(app: AppState, bench_id: str, job_id: str, plan: Plan) -> Gathered:
    gathered, done, looked = Gathered(), 0, time.monotonic()

    def chunks(file: BinaryIO) -> Iterator[bytes]:
        nonlocal done
        while piece := file.read(CHUNK):
            done += len(piece)
            yield piece

    with kept_file(app, job_id).open("rb") as file:
        for item in rows(lines_of(chunks(file), plan.encoding), plan, datetime.now(UTC)):
            gathered.add(item)
            if gathered.rows % ROWS_BETWEEN_LOOKS == 0 and time.monotonic() - looked > BEAT_SECONDS:
                far = gathered.rows, done, gathered.bad
                with writing(app.engine, bench_id) as session:
                    imports.beat(session, bench_id, job_id, *far, datetime.now(UTC))
                looked = time.monotonic()
    return gathered


def _end(app: AppState, bench_id: str, job_id: str, gathered: Gathered) -> None:
    told = gathered.rows, gathered.bad, gathered.bad_rows
    with writing(app.engine, bench_id) as session:
        if gathered.good:
            imports.finish(session, bench_id, job_id, gathered.days, *told, datetime.now(UTC))
        else:
            message = NONE_GOOD if gathered.bad else NO_LINES
            imports.fail(session, bench_id, job_id, message, datetime.now(UTC), *told)
    if gathered.good:
        kept_file(app, job_id).unlink(missing_ok=True)


def _give_up(app: AppState, bench_id: str, job_id: str, message: str) -> None:
    try:
        with writing(app.engine, bench_id) as session:
            imports.fail(session, bench_id, job_id, message, datetime.now(UTC))
    except Exception:
        # The store itself is out of reach: the job will be found silent, and said to be cut off.
        LOG.exception("an import could not be ended")
