"""The tables. Constraints have names from the start, so that later migrations can speak of them."""

from __future__ import annotations

import secrets
from datetime import UTC, datetime
from typing import Any, ClassVar

from sqlalchemy import DateTime, Double, Index, MetaData, String, Text, UniqueConstraint
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator, TypeEngine
from sqlmodel import Field, SQLModel

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
        moment = datetime.fromisoformat(value) if isinstance(value, str) else value
        return moment.astimezone(UTC)


def new_id() -> str:
    """Twelve characters that cannot be guessed and are safe in an address."""
    return secrets.token_urlsafe(9)


class Base(SQLModel):
    metadata: ClassVar[MetaData] = MetaData(naming_convention=NAMING)


class Bench(Base, table=True):
    id: str = Field(default_factory=new_id, primary_key=True, max_length=12)
    created_at: datetime = Field(sa_type=UtcTime)
    unit: str = Field(default="mm", max_length=16)
    is_demo: bool = False


class Instrument(Base, table=True):
    __table_args__ = (UniqueConstraint("bench_id", "form_id"),)

    id: str = Field(default_factory=new_id, primary_key=True, max_length=12)
    bench_id: str = Field(foreign_key="bench.id", max_length=12)
    created_at: datetime = Field(sa_type=UtcTime)
    form_id: str = Field(max_length=64)
    archived_at: datetime | None = Field(default=None, sa_type=UtcTime)


class InstrumentVersion(Base, table=True):
    """An instrument as described at one time; a change makes a new version, so old reports stay true."""

    __tablename__ = "instrument_version"
    __table_args__ = (UniqueConstraint("instrument_id", "number"),)

    id: int | None = Field(default=None, primary_key=True)
    instrument_id: str = Field(foreign_key="instrument.id", max_length=12)
    number: int
    created_at: datetime = Field(sa_type=UtcTime)
    spec: str = Field(sa_type=Text)


class Setup(Base, table=True):
    __table_args__ = (UniqueConstraint("instrument_id", "form_id"),)

    id: str = Field(default_factory=new_id, primary_key=True, max_length=12)
    instrument_id: str = Field(foreign_key="instrument.id", max_length=12)
    form_id: str = Field(max_length=64)
    started_at: datetime = Field(sa_type=UtcTime)
    finished_at: datetime | None = Field(default=None, sa_type=UtcTime)
    finished_version: int | None = None


class Entry(Base, table=True):
    """One line of a setup's journal: written once, never changed, never removed."""

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
