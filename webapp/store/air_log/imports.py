"""Imports of loggers' files: where each of them stands, so that every process of the app sees the same.

A job goes mapping -> running -> done, failed, cancelled or cut off. Whatever an import adds is added in the
transaction that makes it done: any other end leaves the bench as it was. A running job says every moment
that it lives; one that has been silent for too long was killed with its process.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta

from sqlalchemy import update
from sqlmodel import Session, col, select

from webapp.store.air_log import days as air
from webapp.store.air_log.days import AirReadings
from webapp.store.errors import NotFound, StoreError
from webapp.store.tables import Bench, ImportJob, JobState

SILENT_FOR = timedelta(seconds=15)


STOPPED = (JobState.FAILED, JobState.CANCELLED, JobState.CUT_OFF)


class JobOver(StoreError):
    """The job is not in the state that this needs: cancelled meanwhile, or ended before."""


class Busy(StoreError):
    """Another import of this bench is running."""


def is_silent(job: ImportJob, now: datetime) -> bool:
    """Whether it should be running but has not been heard of."""
    return job.state is JobState.RUNNING and abs(now - job.seen_at) > SILENT_FOR


def create(session: Session, bench_id: str, file_name: str, digest: str, size: int, at: datetime) -> str:
    """A job for a file that has been uploaded; returns its id."""
    if session.get(Bench, bench_id) is None:
        raise NotFound
    job = ImportJob(
        bench_id=bench_id,
        state=JobState.MAPPING,
        file_name=file_name,
        digest=digest,
        bytes_all=size,
        started_at=at,
        seen_at=at,
    )
    session.add(job)
    session.flush()
    return job.id


def get(session: Session, bench_id: str, job_id: str) -> ImportJob:
    """The job, or NotFound."""
    return _find(session, bench_id, job_id)


def ids_of(session: Session, bench_id: str) -> frozenset[str]:
    """All the bench's jobs."""
    return frozenset(session.exec(select(ImportJob.id).where(ImportJob.bench_id == bench_id)))


def list_kept(session: Session, bench_id: str) -> Sequence[ImportJob]:
    """The imports whose readings are on the bench, newest first."""
    found = session.exec(
        select(ImportJob)
        .where(
            ImportJob.bench_id == bench_id,
            ImportJob.state == JobState.DONE,
            col(ImportJob.rows_new) > 0,
        )
        .order_by(col(ImportJob.started_at).desc(), col(ImportJob.id))
    )
    return found.all()


def underway(session: Session, bench_id: str) -> ImportJob | None:
    """The import that is running, if one is."""
    running = ImportJob.state == JobState.RUNNING
    return session.exec(select(ImportJob).where(ImportJob.bench_id == bench_id, running)).first()


def begin(session: Session, bench_id: str, job_id: str, plan: str, at: datetime) -> None:
    """Mapping -> running. Raises JobOver where it is not waiting for that, Busy while another one runs."""
    job = _find(session, bench_id, job_id)
    if job.state != JobState.MAPPING:
        raise JobOver
    bury_silent(session, bench_id, at)
    if underway(session, bench_id) is not None:
        raise Busy
    job.state, job.plan, job.started_at, job.seen_at = JobState.RUNNING, plan, at, at
    job.rows_done = job.bytes_done = job.bad = 0
    job.bad_rows, job.message = (), ""
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
    readings: Mapping[date, AirReadings],
    rows: int,
    bad: int,
    bad_rows: Sequence[tuple[int, str]],
    at: datetime,
) -> ImportJob:
    """Running -> done, with everything the file brings; raises JobOver, and adds nothing, if stopped."""
    job = _running(session, bench_id, job_id)
    job.rows_new = air.keep_readings(session, bench_id, job_id, readings)
    job.first_day, job.last_day = min(readings), max(readings)
    job.state, job.bytes_done = JobState.DONE, job.bytes_all
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
) -> ImportJob:
    """Running -> failed, with a sentence for the player."""
    job = _running(session, bench_id, job_id)
    job.state, job.message = JobState.FAILED, message
    return _close(session, job, rows, bad, bad_rows, at)


def cancel(session: Session, bench_id: str, job_id: str) -> None:
    """Stops a job that waits or runs; raises JobOver if it has ended."""
    job = _find(session, bench_id, job_id)
    if job.state not in (JobState.MAPPING, JobState.RUNNING):
        raise JobOver
    job.state = JobState.CANCELLED
    session.flush()


def again(session: Session, bench_id: str, job_id: str) -> None:
    """A job that came to nothing goes back to the choice of columns."""
    job = _find(session, bench_id, job_id)
    if job.state not in STOPPED:
        raise JobOver
    job.state = JobState.MAPPING
    session.flush()


def take_out(session: Session, bench_id: str, job_id: str) -> None:
    """Done -> taken out: what only this import brought leaves the bench."""
    job = _find(session, bench_id, job_id)
    if job.state != JobState.DONE:
        raise JobOver
    air.drop_readings(session, bench_id, job_id)
    job.state = JobState.TAKEN_OUT
    session.flush()


def bury_silent(session: Session, bench_id: str, at: datetime) -> None:
    """Says of jobs that were killed that they were."""
    session.execute(
        update(ImportJob)
        .where(
            col(ImportJob.bench_id) == bench_id,
            col(ImportJob.state) == JobState.RUNNING,
            # A clock that was set back must not keep a job that is dead for ever.
            (col(ImportJob.seen_at) < at - SILENT_FOR) | (col(ImportJob.seen_at) > at + SILENT_FOR),
        )
        .values(state=JobState.CUT_OFF)
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
    if job.state != JobState.RUNNING:
        raise JobOver
    return job


def _close(
    session: Session, job: ImportJob, rows: int, bad: int, bad_rows: Sequence[tuple[int, str]], at: datetime
) -> ImportJob:
    job.rows_done, job.bad, job.seen_at = rows, bad, at
    job.bad_rows = tuple(bad_rows)
    session.flush()
    return job
