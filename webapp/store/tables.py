"""The tables. Constraints have names from the start, so that later migrations can speak of them."""

from __future__ import annotations

import json
import secrets
from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Any, ClassVar

from sqlalchemy import (
    Column,
    DateTime,
    Double,
    Index,
    LargeBinary,
    MetaData,
    String,
    Text,
    UniqueConstraint,
)
from sqlalchemy.engine import Dialect
from sqlalchemy.sql.base import ReadOnlyColumnCollection
from sqlalchemy.types import TypeDecorator, TypeEngine
from sqlmodel import Field, SQLModel

from webapp.store.errors import Damaged
from webapp.store.sealed import guard

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class UtcTime(TypeDecorator[datetime]):
    """A moment in UTC, with its zone.

    SQLite has no such type, so there it is ISO 8601 text of one fixed width, which sorts as time does.
    """

    impl = DateTime(timezone=True)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        if dialect.name == "sqlite":
            return dialect.type_descriptor(String(32))
        return dialect.type_descriptor(DateTime(timezone=True))

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a time without a zone cannot be kept")
        moment = value.astimezone(UTC)
        return moment.isoformat(timespec="microseconds") if dialect.name == "sqlite" else moment

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        try:
            moment = datetime.fromisoformat(value) if isinstance(value, str) else value
            return moment.astimezone(UTC)
        except (ValueError, OverflowError) as none:
            raise Damaged from none


class JobState(StrEnum):
    """How far an import is (store/air_log/imports.py)."""

    MAPPING = "mapping"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"
    CUT_OFF = "cut off"
    TAKEN_OUT = "taken out"


class JobWord(TypeDecorator[JobState]):
    """An import's state, kept as its word."""

    impl = String(16)
    cache_ok = True

    def process_bind_param(self, value: JobState | None, dialect: Dialect) -> Any:
        return None if value is None else value.value

    def process_result_value(self, value: Any, dialect: Dialect) -> JobState | None:
        return None if value is None else JobState(value)


BadRows = tuple[tuple[int, str], ...]
"""Lines that could not be read: number and reason."""


class BadRowsText(TypeDecorator[BadRows]):
    """Lines that could not be read, kept as JSON."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: BadRows | None, dialect: Dialect) -> Any:
        return None if value is None else json.dumps(value, ensure_ascii=False)

    def process_result_value(self, value: Any, dialect: Dialect) -> BadRows | None:
        return None if value is None else tuple((int(line), str(why)) for line, why in json.loads(value))


def new_id() -> str:
    """Twelve characters that cannot be guessed and are safe in an address."""
    return secrets.token_urlsafe(9)


class Base(SQLModel):
    metadata: ClassVar[MetaData] = MetaData(naming_convention=NAMING)


def _seal_column() -> Any:
    """The sum of the line (seal_sums.py), which it is given as it is written."""
    return Field(default="", max_length=16, sa_column_kwargs={"server_default": ""})


class Bench(Base, table=True):
    id: str = Field(default_factory=new_id, primary_key=True, max_length=12)
    created_at: datetime = Field(sa_type=UtcTime)
    unit: str = Field(default="mm", max_length=16)
    is_demo: bool = False
    # Grows with every change of the bench's air, so that what follows from the air can be kept meanwhile.
    air_mark: int = Field(default=0, sa_column_kwargs={"server_default": "0"})
    # The keys of the tools at hand, parted by spaces; nothing at all until they were asked for.
    tools: str | None = Field(default=None, sa_type=Text)
    seal: str = _seal_column()


class Instrument(Base, table=True):
    __table_args__ = (UniqueConstraint("bench_id", "form_id"),)

    id: str = Field(default_factory=new_id, primary_key=True, max_length=12)
    bench_id: str = Field(foreign_key="bench.id", max_length=12)
    created_at: datetime = Field(sa_type=UtcTime)
    form_id: str = Field(max_length=64)
    archived_at: datetime | None = Field(default=None, sa_type=UtcTime)
    seal: str = _seal_column()


class InstrumentVersion(Base, table=True):
    """An instrument as described at one time; a change makes a new version, so old reports stay true."""

    __tablename__ = "instrument_version"
    __table_args__ = (UniqueConstraint("instrument_id", "number"),)

    id: int | None = Field(default=None, primary_key=True)
    instrument_id: str = Field(foreign_key="instrument.id", max_length=12)
    number: int
    created_at: datetime = Field(sa_type=UtcTime)
    spec: str = Field(sa_type=Text)
    seal: str = _seal_column()


class BenchLine(Base, table=True):
    """What the bench last said of an instrument (store/bench_lines.py). It follows from all else that is
    kept, and is made anew where its sum is another."""

    __tablename__ = "bench_line"

    instrument_id: str = Field(foreign_key="instrument.id", primary_key=True, max_length=12)
    said: str = Field(sa_type=Text)
    seal: str = Field(max_length=16)


class Setup(Base, table=True):
    __table_args__ = (UniqueConstraint("instrument_id", "form_id"),)

    id: str = Field(default_factory=new_id, primary_key=True, max_length=12)
    instrument_id: str = Field(foreign_key="instrument.id", max_length=12)
    form_id: str = Field(max_length=64)
    started_at: datetime = Field(sa_type=UtcTime)
    finished_at: datetime | None = Field(default=None, sa_type=UtcTime)
    finished_version: int | None = None
    lesson_id: str | None = Field(default=None, foreign_key="lesson.id", max_length=12, index=True)
    lesson_version: int | None = None
    seal: str = _seal_column()


class EntryRecord(Base, table=True):
    """One line of a setup's journal: written once, never changed, never removed."""

    __tablename__ = "entry"

    # The same form sent twice is recorded once: its id and the place within the form are unique in a setup.
    # Ids are never given twice (sqlite_autoincrement), so "newer" is always "larger".
    __table_args__ = (
        UniqueConstraint("setup_id", "form_id", "part"),
        Index(None, "setup_id", "slot"),
        {"sqlite_autoincrement": True},
    )

    id: int | None = Field(default=None, primary_key=True)
    setup_id: str = Field(foreign_key="setup.id", max_length=12)
    form_id: str = Field(max_length=64)
    part: int = 0
    at: datetime = Field(sa_type=UtcTime)
    kind: str = Field(max_length=16)
    check: str = Field(max_length=16)
    slot: str = Field(max_length=64)
    value: float | None = Field(default=None, sa_type=Double)
    unit: str = Field(default="", max_length=16)
    typed: str = Field(default="", sa_type=Text)
    tool: str = Field(default="", max_length=32)
    error: float | None = Field(default=None, sa_type=Double)
    detail: str = Field(default="{}", sa_type=Text)
    voids: int | None = Field(default=None, foreign_key="entry.id")
    seal: str = _seal_column()


class Instance(Base, table=True):
    """This store's own name (cookies ignore ports, so a cookie's name says whose it is) and where it was
    last served; the address is empty until it was."""

    id: str = Field(default_factory=new_id, primary_key=True, max_length=12)
    address: str = Field(default="", max_length=300)
    hosted: bool = False


class DeviceKey(Base, table=True):
    """One device's key to one bench. Of the key itself only the SHA-256 is kept."""

    __tablename__ = "device_key"
    __table_args__ = (UniqueConstraint("secret_hash"), Index(None, "bench_id"))

    id: str = Field(default_factory=new_id, primary_key=True, max_length=12)
    bench_id: str = Field(foreign_key="bench.id", max_length=12)
    secret_hash: str = Field(max_length=64)
    device_name: str = Field(max_length=60)
    made_at: datetime = Field(sa_type=UtcTime)
    last_used_at: datetime = Field(sa_type=UtcTime)
    revoked_at: datetime | None = Field(default=None, sa_type=UtcTime)


class WayIn(Base, table=True):
    """A code that makes one key, once: in an entry link, or to pair a device. Only its hash is kept.

    `label` is the open part of a pairing code; it says which code a wrong try was aimed at.
    """

    __tablename__ = "way_in"
    __table_args__ = (UniqueConstraint("code_hash"), Index(None, "label"))

    id: str = Field(default_factory=new_id, primary_key=True, max_length=12)
    bench_id: str = Field(foreign_key="bench.id", max_length=12)
    kind: str = Field(max_length=8)
    label: str = Field(default="", max_length=8)
    code_hash: str = Field(max_length=64)
    made_by: str | None = Field(default=None, foreign_key="device_key.id", max_length=12)
    made_at: datetime = Field(sa_type=UtcTime)
    expires_at: datetime = Field(sa_type=UtcTime)
    used_at: datetime | None = Field(default=None, sa_type=UtcTime)
    wrong_tries: int = 0


class Rate(Base, table=True):
    """How often something was tried since the window opened."""

    name: str = Field(primary_key=True, max_length=80)
    window_start: datetime = Field(sa_type=UtcTime)
    count: int = 0


class AirDayRecord(Base, table=True):
    """The mean of one day's air. Each source has its own; which one counts is decided when it is read."""

    __tablename__ = "air_day"
    __table_args__ = (UniqueConstraint("bench_id", "day", "source"),)

    id: int | None = Field(default=None, primary_key=True)
    bench_id: str = Field(foreign_key="bench.id", max_length=12)
    day: date
    source: str = Field(max_length=16)
    temperature_c: float = Field(sa_type=Double)
    humidity_percent: float = Field(sa_type=Double)
    rows: int = 1
    seal: str = _seal_column()


class ImportJob(Base, table=True):
    """One logger's file on its way in. `seen_at` is when its worker last said that it lives; `bad_rows` are
    the first of the `bad` ones."""

    __tablename__ = "import_job"

    id: str = Field(default_factory=new_id, primary_key=True, max_length=12)
    bench_id: str = Field(foreign_key="bench.id", max_length=12, index=True)
    state: JobState = Field(sa_type=JobWord)
    file_name: str = Field(sa_type=Text)
    digest: str = Field(max_length=64)
    plan: str = Field(default="{}", sa_type=Text)
    rows_done: int = 0
    bytes_done: int = 0
    bytes_all: int = 0
    bad: int = 0
    bad_rows: BadRows = Field(default=(), sa_type=BadRowsText)
    message: str = Field(default="", sa_type=Text)
    rows_new: int = 0
    first_day: date | None = None
    last_day: date | None = None
    started_at: datetime = Field(sa_type=UtcTime)
    seen_at: datetime = Field(sa_type=UtcTime)


class AirLogDay(Base, table=True):
    """The distinct readings that one import brought for one day, packed (store/air_log/days.py)."""

    __tablename__ = "air_log_day"

    job_id: str = Field(foreign_key="import_job.id", max_length=12, primary_key=True)
    day: date = Field(primary_key=True)
    readings: bytes = Field(sa_type=LargeBinary)
    seal: str = _seal_column()


class Share(Base, table=True):
    """A link by which anyone may look at one report or one history (which has no setup). Only its hash is
    kept."""

    __table_args__ = (UniqueConstraint("token_hash"), Index(None, "bench_id"))

    id: str = Field(default_factory=new_id, primary_key=True, max_length=12)
    bench_id: str = Field(foreign_key="bench.id", max_length=12)
    instrument_id: str = Field(foreign_key="instrument.id", max_length=12)
    setup_id: str | None = Field(default=None, foreign_key="setup.id", max_length=12)
    token_hash: str = Field(max_length=64)
    with_notes: bool = False
    made_at: datetime = Field(sa_type=UtcTime)
    expires_at: datetime = Field(sa_type=UtcTime)
    opened_at: datetime | None = Field(default=None, sa_type=UtcTime)
    revoked_at: datetime | None = Field(default=None, sa_type=UtcTime)

    def is_good(self, at: datetime) -> bool:
        return self.revoked_at is None and at < self.expires_at


class Lesson(Base, table=True):
    """A teacher's lesson. `link` is the open half of its link; the other half is not in the database."""

    __table_args__ = (UniqueConstraint("bench_id", "form_id"), UniqueConstraint("token_hash"))

    id: str = Field(default_factory=new_id, primary_key=True, max_length=12)
    bench_id: str = Field(foreign_key="bench.id", max_length=12)
    form_id: str = Field(max_length=64)
    created_at: datetime = Field(sa_type=UtcTime)
    students: int = 60
    link: str = Field(max_length=64)
    token_hash: str = Field(max_length=64)
    seal: str = _seal_column()


class LessonVersion(Base, table=True):
    """A lesson as it was at one time; a change makes a new version, so finished setups stay true."""

    __tablename__ = "lesson_version"
    __table_args__ = (UniqueConstraint("lesson_id", "number"),)

    id: int | None = Field(default=None, primary_key=True)
    lesson_id: str = Field(foreign_key="lesson.id", max_length=12)
    number: int
    created_at: datetime = Field(sa_type=UtcTime)
    sheet: str = Field(sa_type=Text)
    seal: str = _seal_column()


class HandInRecord(Base, table=True):
    """A copy of a finished setup that a student chose to show, under the name they typed. `what` is JSON."""

    __tablename__ = "hand_in"
    __table_args__ = (UniqueConstraint("setup_id"), Index(None, "lesson_id"))

    id: str = Field(default_factory=new_id, primary_key=True, max_length=12)
    lesson_id: str = Field(foreign_key="lesson.id", max_length=12)
    setup_id: str = Field(foreign_key="setup.id", max_length=12)
    name: str = Field(max_length=60)
    handed_at: datetime = Field(sa_type=UtcTime)
    what: str = Field(sa_type=Text)
    seal: str = _seal_column()


guard(
    Bench, Instrument, InstrumentVersion, Setup, AirDayRecord, AirLogDay, Lesson, LessonVersion, HandInRecord
)


def columns(table: type[Base]) -> ReadOnlyColumnCollection[str, Column[Any]]:
    """A table's plain columns: a question about these is put without making objects of what is found."""
    return Base.metadata.tables[str(table.__tablename__)].columns
