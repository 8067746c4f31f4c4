"""Imports of loggers' files: where each of them stands, so that every process of the app sees the same.

A job goes mapping -> running -> done, failed, cancelled or cut off. Whatever an import adds is added in the
transaction that makes it done: any other end leaves the bench as it was. A running job says every moment
that it lives; one that has been silent for too long was killed with its process.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from sqlalchemy import update
from sqlmodel import Session, col, select

from webapp.store.air_log import days as air
from webapp.store.air_log.merge import Readings
from webapp.store.errors import NotFound, StoreError
from webapp.store.tables import Bench, ImportJob

SILENT_FOR = timedelta(seconds=15)


class JobState(StrEnum):
    MAPPING = "mapping"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"
    CUT_OFF = "cut off"
    TAKEN_OUT = "taken out"


STOPPED = (JobState.FAILED, JobState.CANCELLED, JobState.CUT_OFF)


class JobOver(StoreError):
    """The job is not in the state that this needs: cancelled meanwhile, or ended before."""


class Busy(StoreError):
    """Another import of this bench is running."""


@dataclass(frozen=True)
class JobRow:
    """A job as it stands; `bad_rows` are the first bad lines (number, reason) of `bad`."""

    id: str
    state: JobState
    file_name: str
    digest: str
    plan: str
    rows_done: int
    bytes_done: int
    bytes_all: int
    bad: int
    bad_rows: tuple[tuple[int, str], ...]
    message: str
    rows_new: int
    first_day: date | None
    last_day: date | None
    started_at: datetime
    seen_at: datetime

    def silent(self, now: datetime) -> bool:
        """Whether it should be running but has not been heard of."""
        return self.state is JobState.RUNNING and now - self.seen_at > SILENT_FOR


def create(session: Session, bench_id: str, file_name: str, digest: str, size: int, at: datetime) -> str:
    """A job for a file that has been uploaded; returns its id."""
    if session.get(Bench, bench_id) is None:
        raise NotFound
    job = ImportJob(
        bench_id=bench_id,
        state=JobState.MAPPING.value,
        file_name=file_name,
        digest=digest,
        bytes_all=size,
        started_at=at,
        seen_at=at,
    )
    session.add(job)
    session.flush()
    return job.id


def get(session: Session, bench_id: str, job_id: str) -> JobRow:
    """The job, or NotFound."""
    return _row(_find(session, bench_id, job_id))


def list_kept(session: Session, bench_id: str) -> list[JobRow]:
    """The imports whose readings are on the bench, newest first."""
    found = session.exec(
        select(ImportJob)
        .where(
            ImportJob.bench_id == bench_id,
            ImportJob.state == JobState.DONE.value,
            col(ImportJob.rows_new) > 0,
        )
        .order_by(col(ImportJob.started_at).desc(), col(ImportJob.id))
    )
    return [_row(job) for job in found]


def underway(session: Session, bench_id: str) -> JobRow | None:
    """The import that is running, if one is."""
    found = session.exec(
        select(ImportJob).where(ImportJob.bench_id == bench_id, ImportJob.state == JobState.RUNNING.value)
    ).first()
    return None if found is None else _row(found)


def begin(session: Session, bench_id: str, job_id: str, plan: str, at: datetime) -> None:
    """Mapping -> running. Raises JobOver where it is not waiting for that, Busy while another one runs."""
    job = _find(session, bench_id, job_id)
    if job.state != JobState.MAPPING.value:
        raise JobOver
    bury_silent(session, bench_id, at)
    if underway(session, bench_id) is not None:
        raise Busy
    job.state, job.plan, job.started_at, job.seen_at = JobState.RUNNING.value, plan, at, at
    job.rows_done = job.bytes_done = job.bad = 0
    job.bad_rows, job.message = "[]", ""
    session.flush()


def beat(session: Session, bench_id: str, job_id: str, rows: int, size: int, bad: int, at: datetime) -> None:
    """The worker says how far it is; raises JobOver when it shall stop."""
    job = _running(session, bench_id, job_id)
    job.rows_done, job.bytes_done, job.bad, job.seen_at = rows, size, bad, at
    session.flush()


def finish(
    session: Session,
    bench_id: str,
    job_id: str,
    readings: Mapping[date, Readings],
    rows: int,
    bad: int,
    bad_rows: Sequence[tuple[int, str]],
    at: datetime,
) -> JobRow:
    """Running -> done, with everything the file brings; raises JobOver, and adds nothing, if stopped."""
    job = _running(session, bench_id, job_id)
    job.rows_new = air.keep_readings(session, bench_id, job_id, readings)
    job.first_day, job.last_day = min(readings), max(readings)
    job.state, job.bytes_done = JobState.DONE.value, job.bytes_all
    return _close(session, job, rows, bad, bad_rows, at)


def fail(
    session: Session,
    bench_id: str,
    job_id: str,
    message: str,
    at: datetime,
    rows: int = 0,
    bad: int = 0,
    bad_rows: Sequence[tuple[int, str]] = (),
) -> JobRow:
    """Running -> failed, with a sentence for the player."""
    job = _running(session, bench_id, job_id)
    job.state, job.message = JobState.FAILED.value, message
    return _close(session, job, rows, bad, bad_rows, at)


def cancel(session: Session, bench_id: str, job_id: str) -> None:
    """Stops a job that waits or runs; raises JobOver if it has ended."""
    job = _find(session, bench_id, job_id)
    if job.state not in (JobState.MAPPING.value, JobState.RUNNING.value):
        raise JobOver
    job.state = JobState.CANCELLED.value
    session.flush()


def again(session: Session, bench_id: str, job_id: str) -> None:
    """A job that came to nothing goes back to the choice of columns."""
    job = _find(session, bench_id, job_id)
    if job.state not in STOPPED:
        raise JobOver
    job.state = JobState.MAPPING.value
    session.flush()


def take_out(session: Session, bench_id: str, job_id: str) -> None:
    """Done -> taken out: what only this import brought leaves the bench."""
    job = _find(session, bench_id, job_id)
    if job.state != JobState.DONE.value:
        raise JobOver
    air.drop_readings(session, bench_id, job_id)
    job.state = JobState.TAKEN_OUT.value
    session.flush()


def bury_silent(session: Session, bench_id: str, at: datetime) -> None:
    """Says of jobs that were killed that they were."""
    session.execute(
        update(ImportJob)
        .where(
            col(ImportJob.bench_id) == bench_id,
            col(ImportJob.state) == JobState.RUNNING.value,
            col(ImportJob.seen_at) < at - SILENT_FOR,
        )
        .values(state=JobState.CUT_OFF.value)
    )


def _find(session: Session, bench_id: str, job_id: str) -> ImportJob:
    job = session.exec(
        select(ImportJob).where(ImportJob.bench_id == bench_id, ImportJob.id == job_id)
    ).first()
    if job is None:
        raise NotFound
    return job


def _running(session: Session, bench_id: str, job_id: str) -> ImportJob:
    job = _find(session, bench_id, job_id)
    if job.state != JobState.RUNNING.value:
        raise JobOver
    return job


def _close(
    session: Session, job: ImportJob, rows: int, bad: int, bad_rows: Sequence[tuple[int, str]], at: datetime
) -> JobRow:
    job.rows_done, job.bad, job.seen_at = rows, bad, at
    job.bad_rows = json.dumps([list(one) for one in bad_rows], ensure_ascii=False)
    session.flush()
    return _row(job)


def _row(job: ImportJob) -> JobRow:
    return JobRow(
        job.id,
        JobState(job.state),
        job.file_name,
        job.digest,
        job.plan,
        job.rows_done,
        job.bytes_done,
        job.bytes_all,
        job.bad,
        tuple((int(line), str(reason)) for line, reason in json.loads(job.bad_rows)),
        job.message,
        job.rows_new,
        job.first_day,
        job.last_day,
        job.started_at,
        job.seen_at,
    )
