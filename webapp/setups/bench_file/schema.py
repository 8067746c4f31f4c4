"""A whole bench as one JSON file: its published schema, and what is wrong with a file that does not keep it.

Everything in it is known by its origin: the random name of the form that made it, which never changes. So
a file that comes back is recognised, whatever address its instruments have by then. Addresses (`id`) are
kept where they are free. Times are UTC; lengths mm, tuning cents; what was typed stands beside them.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import fields
from datetime import UTC, date, datetime
from itertools import pairwise
from typing import Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    ConfigDict,
    Field,
    JsonValue,
    StringConstraints,
    ValidationError,
    model_validator,
)
from pydantic.dataclasses import dataclass as checked_dataclass

from webapp.setups.journal import Entry, EntryKind, Part
from webapp.trade.spec import InstrumentSpec
from webapp.trade.tools import Key
from webapp.trade.words import Check, Side

FORMAT: Literal["benchside-bench"] = "benchside-bench"
VERSION: Literal[1] = 1
FIRST, LAST = datetime(1990, 1, 1, tzinfo=UTC), datetime(2100, 1, 1, tzinfo=UTC)


def _in_utc(at: datetime) -> datetime:
    if not FIRST <= at < LAST:
        raise ValueError("a time must lie between 1990 and 2100")
    return at.astimezone(UTC)


def _plain(text: str) -> str:
    if "\0" in text or any("\ud800" <= c <= "\udfff" for c in text):
        raise ValueError("a text must hold whole characters, and no null")
    return text


def _jsonable(detail: Mapping[str, JsonValue]) -> Mapping[str, JsonValue]:
    """Only what can be written down again: no infinite number, no half a character."""
    _plain(json.dumps(detail, allow_nan=False, ensure_ascii=False).replace("\\u0000", "\0"))
    return detail


Moment = Annotated[AwareDatetime, AfterValidator(_in_utc)]
Day = Annotated[date, Field(ge=FIRST.date(), lt=LAST.date())]
Origin = Annotated[str, StringConstraints(min_length=1, max_length=64), AfterValidator(_plain)]
Address = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_-]{1,12}$")]
Word = Annotated[str, StringConstraints(max_length=16), AfterValidator(_plain)]
Typed = Annotated[str, StringConstraints(max_length=10_000), AfterValidator(_plain)]
Fret = Annotated[int, Field(ge=0, le=36)]
StringNumber = Annotated[int, Field(strict=True, ge=1, le=12)]
Name = tuple[str, str, int]
"""What an entry is known by: its setup's origin, its own, and its part."""
# What an entry of the journal and one of the file tell alike. A number is good in one database only.
_ALIKE = tuple(field.name for field in fields(Entry) if field.name not in ("id", "voids"))


class FileModel(BaseModel):
    """A part of the file. A word it does not know is an error: it may come from a newer Benchside."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class KnownDetail(BaseModel):
    """What the sums look for in an entry's detail, where it is there; there may be more."""

    model_config = ConfigDict(extra="allow", allow_inf_nan=False, strict=True)

    method: str | None = None
    answer: str | None = None
    hold: Fret | None = None
    press: Fret | None = None
    gap: Fret | None = None
    fret: Fret | None = None
    card_mm: float | None = None
    temperature_c: float | None = None
    humidity_percent: float | None = None
    expected: float | None = None
    spread: float | None = None
    basis: str | None = None
    load_before_n: float | None = None
    load_after_n: float | None = None
    touch: Literal["light", "medium", "firm"] | None = None
    taps: list[Annotated[list[int], Field(min_length=2, max_length=2)]] | None = None
    heard: list[str] | None = None
    symptoms: list[str] | None = None
    stoppers: list[str] | None = None
    cents: dict[str, float] | None = None


class TurnDetail(BaseModel):
    """What an adjustment's detail must hold: the part, and signed eighths of a turn."""

    model_config = ConfigDict(extra="allow")

    part: Part
    eighths: Annotated[int, Field(strict=True, ge=-800, le=800)] = 0
    string: StringNumber | None = None
    pickup: Annotated[int, Field(strict=True, ge=1, le=4)] | None = None
    side: Side | None = None


def _check_detail(model: type[BaseModel], detail: Mapping[str, JsonValue]) -> None:
    try:
        model.model_validate(detail)
    except ValidationError as wrong:
        first = wrong.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(step) for step in first["loc"])
        raise ValueError(f"in its detail, {place}: {first['msg']}") from None


class EntryName(FileModel):
    """Names one entry of a setup: the form that made it, and the place within that form."""

    origin: Origin
    part: Annotated[int, Field(ge=0, lt=10_000)] = 0


class FileEntry(EntryName):
    """One line of a journal. A correction voids the entry it corrects; both stay."""

    setup: Annotated[Origin, Field(description="the origin of the setup it belongs to")]
    at: Moment
    kind: EntryKind
    check: Check
    slot: Annotated[str, StringConstraints(max_length=64), AfterValidator(_plain)]
    value: Annotated[float, Field(ge=-1e6, le=1e6)] | None = Field(None, description="mm, or cents")
    unit: Word = Field("", description="the unit it was typed in, or cents")
    typed: Typed = ""
    tool: Annotated[str, StringConstraints(max_length=32), AfterValidator(_plain)] = ""
    error: Annotated[float, Field(ge=0, le=1e6)] | None = Field(None, description="the tool's, as value")
    detail: Annotated[dict[str, JsonValue], AfterValidator(_jsonable)] = {}
    voids: EntryName | None = None

    @classmethod
    def of(cls, entry: Entry, name: Name, voids: Name | None) -> Self:
        """An entry of the journal under its name here, and the name of the one that it voids."""
        setup, origin, part = name
        told = {alike: getattr(entry, alike) for alike in _ALIKE}
        named = {"origin": voids[1], "part": voids[2]} if voids else None
        return cls.model_validate({**told, "setup": setup, "origin": origin, "part": part, "voids": named})

    def entry(self, voids: int | None, number: int = 0) -> Entry:
        """The journal's entry, under the numbers that it and the one it voids have there."""
        return Entry(**{alike: getattr(self, alike) for alike in _ALIKE}, voids=voids, id=number)

    @property
    def name(self) -> Name:
        return self.setup, self.origin, self.part

    @property
    def voided(self) -> Name | None:
        """The name of the entry that this one voids."""
        return (self.setup, self.voids.origin, self.voids.part) if self.voids else None

    @model_validator(mode="after")
    def _can_be_read(self) -> Self:
        _check_detail(KnownDetail, self.detail)
        if self.kind is EntryKind.ADJUSTMENT:
            _check_detail(TurnDetail, self.detail)
        if self.kind is EntryKind.READING and self.value is None:
            raise ValueError("a reading needs a value")
        if self.kind is EntryKind.VOID and self.voids is None:
            raise ValueError("an entry that strikes another out must name it")
        return self


class FileVersion(FileModel):
    """An instrument as it was described at one time."""

    number: Annotated[int, Field(ge=1, le=100_000)]
    created_at: Moment
    spec: InstrumentSpec

    @classmethod
    def of(cls, number: int, created_at: datetime, spec_json: str) -> Self:
        """A description as the store keeps it."""
        spec = InstrumentSpec.model_validate_json(spec_json)
        return cls(number=number, created_at=created_at, spec=spec)


class FileSetup(FileModel):
    """One pass through the checks, or a quick check. Finished by the description with that number."""

    id: Address
    origin: Origin
    started_at: Moment
    finished_at: Moment | None = None
    finished_version: int | None = None

    @model_validator(mode="after")
    def _finished_by_something(self) -> Self:
        if (self.finished_at is None) != (self.finished_version is None):
            raise ValueError("a finished setup has both a time and a description, another has neither")
        return self


class FileInstrument(FileModel):
    """One instrument: its descriptions, its setups, and the entries of all of them as they were recorded."""

    id: Address
    origin: Origin
    created_at: Moment
    archived_at: Moment | None = None
    versions: Annotated[tuple[FileVersion, ...], Field(min_length=1)]
    setups: tuple[FileSetup, ...] = ()
    entries: tuple[FileEntry, ...] = ()

    @property
    def name(self) -> str:
        return self.versions[-1].spec.name

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        numbers = [version.number for version in self.versions]
        if any(later <= earlier for earlier, later in pairwise(numbers)):
            raise ValueError("the descriptions must be numbered upwards")
        _once("setup", (setup.origin for setup in self.setups))
        _once("setup's id", (setup.id for setup in self.setups))
        _once("entry", (entry.name for entry in self.entries))
        setups, known = {setup.origin for setup in self.setups}, set[Name]()
        for setup in self.setups:
            if setup.finished_version is not None and setup.finished_version not in numbers:
                raise ValueError(f"there is no description {setup.finished_version}, which a setup names")
        for number, entry in enumerate(self.entries, 1):
            if entry.setup not in setups:
                raise ValueError(f"entry {number} belongs to a setup that is not in the file")
            if entry.voided and entry.voided not in known:
                raise ValueError(f"entry {number} strikes out an entry that is not before it")
            known.add(entry.name)
        return self


@checked_dataclass(frozen=True, config=ConfigDict(extra="forbid", allow_inf_nan=False))
class AirDay:
    """The mean of one day's air over `rows` readings: typed by hand, or a logger's.

    This is what the store hands out, too. Raises ValueError for what can be no room's air.
    """

    day: Day
    temperature_c: Annotated[float, Field(ge=-100, le=100)]
    humidity_percent: Annotated[float, Field(ge=0, le=100)]
    rows: Annotated[int, Field(ge=1, le=10_000_000)] = 1
    source: Literal["typed", "logged"] = "typed"


class BenchFile(FileModel):
    """A whole bench of Benchside: instruments, setups with every entry, and the air. No keys to anything."""

    model_config = ConfigDict(title="A bench of Benchside, version 1")

    format: Literal["benchside-bench"]
    version: Literal[1]
    unit: Annotated[Literal["mm", "in", "thou", "64ths"], Field(description="how lengths are shown")] = "mm"
    tools: Annotated[
        tuple[Key, ...] | None, Field(description="the measuring tools at hand; null: never asked")
    ] = None
    instruments: tuple[FileInstrument, ...] = ()
    air: tuple[AirDay, ...] = ()

    @model_validator(mode="after")
    def _each_once(self) -> Self:
        _once("instrument", (one.origin for one in self.instruments))
        _once("id", (one.id for one in self.instruments))
        _once("day of air", ((one.day, one.source) for one in self.air))
        return self

    def as_text(self) -> str:
        """The file: JSON, UTF-8 when written, indented for the curious."""
        return self.model_dump_json(indent=1) + "\n"


def _once(what: str, names: Iterable[object]) -> None:
    seen = set()
    for name in names:
        if name in seen:
            raise ValueError(f"the same {what} stands in it twice")
        seen.add(name)


def schema() -> dict[str, Any]:
    """The published schema of the file."""
    made = BenchFile.model_json_schema(mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **made}
