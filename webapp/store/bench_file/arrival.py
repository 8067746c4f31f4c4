"""What of a bench file is to be added to a bench: found out by looking alone, before anything is written.

Things are known by their origin (webapp/store/bench_file/whole.py), a description by its time. What is there
already stays as it is; what differs, or cannot come in without changing what is there, is refused with the
reason. Ids are kept where no other thing has them.

A journal that two benches went on with is put in order of time again: the entries that were recorded here
after the first new one are set down anew behind it, each with its own words, time and origin, because an
entry with a larger number is a newer one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from sqlmodel import Session, col, select

from webapp.setups.bench_file.schema import FileEntry, FileInstrument, Name
from webapp.store.bench_file import whole
from webapp.store.engine import Line
from webapp.store.entries import line_of
from webapp.store.seal_sums import SEALED
from webapp.store.sealed import with_sum
from webapp.store.tables import Instrument, InstrumentVersion, Setup, new_id

OTHER_WORDS = "An entry says something else here. This bench keeps its own."
VOIDS_OTHER = "A correction of an entry that says something else here was left out with it."
CLOSED = "A setup is finished here, so its journal is closed; the file’s further entries were left out."
STAYS_OPEN = "A setup is finished in the file, but was gone on with here, so here it stays open."
# So many names at most are asked for in one question.
SOME = 500
Opened = Callable[[], AbstractContextManager[Session]]
"""Opens a session to look with; what is found can be read when it is closed."""


@dataclass
class Count:
    """How many of one sort came in, were there already, and were refused."""

    added: int = 0
    there: int = 0
    refused: int = 0


@dataclass(frozen=True)
class Refusal:
    """Why something did not come in: the instrument it belongs to, the time it stands for, a sentence."""

    origin: str
    at: datetime
    why: str


@dataclass
class Came:
    """What an import did."""

    instruments: Count = field(default_factory=Count)
    descriptions: Count = field(default_factory=Count)
    setups: Count = field(default_factory=Count)
    entries: Count = field(default_factory=Count)
    air: Count = field(default_factory=Count)
    refusals: list[Refusal] = field(default_factory=list)


@dataclass
class Arrival:
    """One instrument's part of an import, as lines of the tables, sealed; a setup that is `finished` here too
    is told by its whole new line. Of the entries, those that are `gone` come again among the new ones."""

    instruments: list[dict[str, Any]] = field(default_factory=list)
    versions: list[dict[str, Any]] = field(default_factory=list)
    setups: list[dict[str, Any]] = field(default_factory=list)
    finished: list[dict[str, Any]] = field(default_factory=list)
    gone: Sequence[int] = ()
    entries: Sequence[FileEntry] = ()
    # Setups' ids, by origin; the numbers of the entries that stay; the newest sum of each setup of theirs.
    ids: dict[str, str] = field(default_factory=dict)
    kept: dict[Name, int] = field(default_factory=dict)
    last: dict[str, str] = field(default_factory=dict)

    def entry_lines(self, numbers: Iterator[int]) -> Iterator[dict[str, Any]]:
        """The new entries' lines, under the numbers that they are given."""
        last, known = dict(self.last), dict(self.kept)
        for one in self.entries:
            setup_id, number = self.ids[one.setup], next(numbers)
            entry = one.entry(known[one.voided] if one.voided else None)
            line = line_of(setup_id, one.origin, one.part, entry, last.get(setup_id, ""))
            last[setup_id], known[one.name] = line["seal"], number
            yield line | {"id": number}


@dataclass(frozen=True)
class _Here:
    """What the bench has of an instrument, and which of the file's ids something has already."""

    row: Instrument | None
    versions: Sequence[InstrumentVersion]
    setups: Sequence[Setup]
    lines: Sequence[Line]
    taken: frozenset[str]


def arrival(opened: Opened, bench_id: str, new: FileInstrument, came: Came, given: set[str]) -> Arrival:
    """What of one instrument is to be added; counted in `came`. Ids that this import gave away are in
    `given`, and so are those that it gives now. Raises Damaged."""
    with opened() as session:
        row = session.exec(
            select(Instrument).where(Instrument.bench_id == bench_id, Instrument.form_id == new.origin)
        ).first()
        here = _Here(
            row,
            whole.versions(session, row.id) if row else (),
            whole.setups(session, row.id) if row else (),
            whole.entry_lines(session, row.id) if row else (),
            frozenset(
                _taken(session, Instrument, [new.id]) + _taken(session, Setup, [one.id for one in new.setups])
            ),
        )
    return _Looking(bench_id, new, came, given, here).found()


def _taken(session: Session, table: type[Instrument] | type[Setup], wanted: Sequence[str]) -> list[str]:
    found: list[str] = []
    for start in range(0, len(wanted), SOME):
        found += session.exec(select(table.id).where(col(table.id).in_(wanted[start : start + SOME])))
    return found


class _Looking:
    """One instrument being compared with what is here of it."""

    def __init__(self, bench_id: str, new: FileInstrument, came: Came, given: set[str], here: _Here) -> None:
        self._bench_id, self._new, self._came, self._given, self._here = bench_id, new, came, given, here
        self._numbers: dict[int, int] = {}  # the file's numbers of descriptions, as they are here
        origins = {setup.id: setup.form_id for setup in here.setups}
        self._entries = whole.entries(here.lines, origins)
        self._arrival = Arrival(ids={origin: setup_id for setup_id, origin in origins.items()})

    def found(self) -> Arrival:
        row = self._here.row
        if row is None:
            self._add_instrument()
        else:
            self._came.instruments.there += 1
            self._describe(row.id)
        instrument_id = row.id if row else self._arrival.instruments[0]["id"]
        self._add_setups(instrument_id)
        self._add_entries({one.form_id for one in self._here.setups if one.finished_at is not None})
        self._finish()
        return self._arrival

    def _add_instrument(self) -> None:
        new = self._new
        told = {
            "id": self._free_id(new.id), "bench_id": self._bench_id, "created_at": new.created_at,
            "form_id": new.origin, "archived_at": new.archived_at,
        }  # fmt: skip
        line = with_sum(Instrument, told)
        self._arrival.instruments.append(line)
        for one in new.versions:
            self._add_version(line["id"], one.number, one.created_at, one.spec.model_dump_json())
            self._numbers[one.number] = one.number
        self._came.instruments.added += 1
        self._came.descriptions.added += len(new.versions)

    def _add_version(self, instrument_id: str, number: int, at: datetime, spec_json: str) -> None:
        told = {"instrument_id": instrument_id, "number": number, "created_at": at, "spec": spec_json}
        self._arrival.versions.append(with_sum(InstrumentVersion, told))

    def _describe(self, instrument_id: str) -> None:
        """Adds the descriptions that are not here.

        Where the bench had gone on by itself, its newest description is set on top again.
        """
        here = self._here.versions
        newest, added = here[-1], 0
        known = {one.created_at: one.number for one in reversed(here)}
        went_on = newest.created_at not in {one.created_at for one in self._new.versions}
        for one in self._new.versions:
            if one.created_at not in known:
                added += 1
                known[one.created_at] = newest.number + added
                spec_json = one.spec.model_dump_json()
                self._add_version(instrument_id, newest.number + added, one.created_at, spec_json)
            self._numbers[one.number] = known[one.created_at]
        if added and went_on:
            self._add_version(instrument_id, newest.number + added + 1, datetime.now(UTC), newest.spec)
        self._came.descriptions.added += added
        self._came.descriptions.there += len(self._new.versions) - added

    def _add_setups(self, instrument_id: str) -> None:
        known = set(self._arrival.ids)
        for one in self._new.setups:
            if one.origin in known:
                self._came.setups.there += 1
                continue
            version = None if one.finished_version is None else self._numbers[one.finished_version]
            line: dict[str, Any] = {
                "id": self._free_id(one.id), "instrument_id": instrument_id, "form_id": one.origin,
                "started_at": one.started_at, "finished_at": one.finished_at, "finished_version": version,
                "lesson_id": None, "lesson_version": None,
            }  # fmt: skip
            self._arrival.setups.append(with_sum(Setup, line))
            self._arrival.ids[one.origin] = line["id"]
            self._came.setups.added += 1

    def _add_entries(self, closed: set[str]) -> None:
        known = {entry.name: entry for entry in self._entries.values()}
        fresh: list[FileEntry] = []
        dropped: set[Name] = set()
        for entry in self._new.entries:
            mine = known.get(entry.name)
            if mine == entry:
                self._came.entries.there += 1
                continue
            why = OTHER_WORDS if mine else CLOSED if entry.setup in closed else ""
            why = why or (VOIDS_OTHER if entry.voided in dropped else "")
            if why:
                dropped.add(entry.name)
                self._came.entries.refused += 1
                self._refuse(entry.at, why)
            else:
                fresh.append(entry)
        self._came.entries.added += len(fresh)
        if fresh:
            self._put_among(fresh)

    def _put_among(self, fresh: Sequence[FileEntry]) -> None:
        """Puts new entries among those that are here, both in their own order, the earlier time first."""
        old, numbers, plan = list(self._entries.values()), list(self._entries), self._arrival
        stay = next((i for i, one in enumerate(old) if one.at > fresh[0].at), len(old))
        plan.kept = {one.name: number for one, number in zip(old[:stay], numbers[:stay], strict=True)}
        plan.last = {setup_id: seal for setup_id, _, _, seal, *_ in self._here.lines[:stay]}
        plan.gone, plan.entries = numbers[stay:], _merged(old[stay:], fresh)

    def _finish(self) -> None:
        """A setup that was finished elsewhere is finished here too, unless this bench went on with it."""
        new = {one.origin: one for one in self._new.setups}
        in_file = {entry.name for entry in self._new.entries}
        gone_on = {one.setup for one in self._entries.values() if one.name not in in_file}
        for here in self._here.setups:
            told = new.get(here.form_id)
            if told is None or told.finished_version is None or here.finished_at is not None:
                continue
            if here.form_id in gone_on:
                self._came.setups.refused += 1
                self._came.setups.there -= 1
                self._refuse(here.started_at, STAYS_OPEN)
                continue
            line = {name: getattr(here, name) for name in SEALED["setup"]}
            version = self._numbers[told.finished_version]
            line |= {"finished_at": told.finished_at, "finished_version": version}
            self._arrival.finished.append(with_sum(Setup, line))

    def _free_id(self, wanted: str) -> str:
        """The id it had, unless something else has it here."""
        free = new_id() if wanted in self._here.taken or wanted in self._given else wanted
        self._given.add(free)
        return free

    def _refuse(self, at: datetime, why: str) -> None:
        self._came.refusals.append(Refusal(self._new.origin, at, why))


def _merged(old: Sequence[FileEntry], new: Sequence[FileEntry]) -> list[FileEntry]:
    """Both in one; an entry never comes before the one that it voids, whatever their clocks said."""
    made: list[FileEntry] = []
    left, right = list(old[::-1]), list(new[::-1])
    waiting = {entry.name for entry in left}
    while left and right:
        if left[-1].at <= right[-1].at or right[-1].voided in waiting:
            waiting.discard(left[-1].name)
            made.append(left.pop())
        else:
            made.append(right.pop())
    return made + left[::-1] + right[::-1]
