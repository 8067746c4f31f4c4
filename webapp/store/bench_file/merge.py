"""A whole bench into the store: nothing doubled, nothing overwritten.

Things are known by their origin (webapp/store/bench_file/whole.py), a description by its time. What is there
already stays as it is; what differs, or cannot come in without changing what is there, is refused with the
reason. Ids are kept where no other thing has them.

A journal that two benches went on with is put in order of time again: the entries that were recorded here
after the first new one are set down anew behind it, each with its own words, time and origin, because an
entry with a larger number is a newer one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

from sqlalchemy import delete
from sqlmodel import Session, col, select

from webapp.setups.bench_file.schema import BenchFile, FileEntry, FileInstrument, Name
from webapp.store.air_log import days as air
from webapp.store.bench_file import whole
from webapp.store.entries import Seals, set_down
from webapp.store.errors import NotFound
from webapp.store.tables import Bench, EntryRecord, Instrument, InstrumentVersion, Setup, new_id

OTHER_WORDS = "An entry says something else here. This bench keeps its own."
VOIDS_OTHER = "A correction of an entry that says something else here was left out with it."
CLOSED = "A setup is finished here, so its journal is closed; the file’s further entries were left out."
STAYS_OPEN = "A setup is finished in the file, but was gone on with here, so here it stays open."


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


def load(session: Session, bench_id: str, new: BenchFile) -> Came:
    """Takes in what is not on the bench yet; raises NotFound.

    An empty bench takes over the file's unit and tools.
    """
    bench = session.get(Bench, bench_id)
    if bench is None:
        raise NotFound
    came = Came()
    filled = session.exec(select(Instrument.id).where(Instrument.bench_id == bench_id)).first()
    if filled is None and not air.kept_days(session, bench_id):
        bench.unit = new.unit
        if new.tools is not None:
            bench.tools = " ".join(new.tools)
    for instrument in new.instruments:
        _Arrival(session, bench_id, instrument, came).take_in()
    came.air.added = air.add_days(session, bench_id, new.air)
    came.air.there = len(new.air) - came.air.added
    session.flush()
    return came


class _Arrival:
    """One instrument coming in."""

    def __init__(self, session: Session, bench_id: str, new: FileInstrument, came: Came) -> None:
        self._session, self._bench_id, self._new, self._came = session, bench_id, new, came
        self._numbers: dict[int, int] = {}  # the file's numbers of descriptions, as they are here
        self._ids: dict[str, str] = {}  # setups' ids here, by origin

    def take_in(self) -> None:
        row = self._session.exec(
            select(Instrument).where(
                Instrument.bench_id == self._bench_id, Instrument.form_id == self._new.origin
            )
        ).first()
        if row is None:
            row = self._add_instrument()
        else:
            self._came.instruments.there += 1
            self._describe(row)
        self._here = whole.entries(self._session, row.id)
        setups = whole.setups(self._session, row.id)
        self._add_setups(row.id, setups)
        self._add_entries({setup.form_id for setup in setups if setup.finished_at is not None})
        for setup in setups:
            self._finish(setup)

    def _add_instrument(self) -> Instrument:
        new = self._new
        row = Instrument(
            id=_free_id(self._session, Instrument, new.id),
            bench_id=self._bench_id,
            created_at=new.created_at,
            form_id=new.origin,
            archived_at=new.archived_at,
        )
        self._session.add(row)
        self._session.flush()
        for one in new.versions:
            self._add_version(row.id, one.number, one.created_at, one.spec.model_dump_json())
            self._numbers[one.number] = one.number
        self._came.instruments.added += 1
        self._came.descriptions.added += len(new.versions)
        return row

    def _add_version(self, instrument_id: str, number: int, at: datetime, spec_json: str) -> None:
        self._session.add(
            InstrumentVersion(instrument_id=instrument_id, number=number, created_at=at, spec=spec_json)
        )
        self._session.flush()

    def _describe(self, row: Instrument) -> None:
        """Adds the descriptions that are not here.

        Where the bench had gone on by itself, its newest description is set on top again.
        """
        here = whole.versions(self._session, row.id)
        newest, added = here[-1], 0
        known = {one.created_at: one.number for one in reversed(here)}
        went_on = newest.created_at not in {one.created_at for one in self._new.versions}
        for one in self._new.versions:
            if one.created_at not in known:
                added += 1
                known[one.created_at] = newest.number + added
                spec_json = one.spec.model_dump_json()
                self._add_version(row.id, newest.number + added, one.created_at, spec_json)
            self._numbers[one.number] = known[one.created_at]
        if added and went_on:
            self._add_version(row.id, newest.number + added + 1, datetime.now(UTC), newest.spec)
        self._came.descriptions.added += added
        self._came.descriptions.there += len(self._new.versions) - added

    def _add_setups(self, instrument_id: str, here: Sequence[Setup]) -> None:
        known = {one.form_id: one.id for one in here}
        self._came.setups.there += sum(one.origin in known for one in self._new.setups)
        self._ids = dict(known)
        for one in self._new.setups:
            if one.origin in known:
                continue
            version = None if one.finished_version is None else self._numbers[one.finished_version]
            row = Setup(
                id=_free_id(self._session, Setup, one.id),
                instrument_id=instrument_id,
                form_id=one.origin,
                started_at=one.started_at,
                finished_at=one.finished_at,
                finished_version=version,
            )
            self._session.add(row)
            self._session.flush()
            self._ids[one.origin] = row.id
            self._came.setups.added += 1

    def _add_entries(self, closed: set[str]) -> None:
        known = {entry.name: entry for entry in self._here.values()}
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
            _write(self._session, self._here, fresh, self._ids)

    def _finish(self, here: Setup) -> None:
        """A setup that was finished elsewhere is finished here too, unless this bench went on with it."""
        new = next((one for one in self._new.setups if one.origin == here.form_id), None)
        if new is None or new.finished_version is None or here.finished_at is not None:
            return
        in_file = {entry.name for entry in self._new.entries}
        if any(one.setup == here.form_id and one.name not in in_file for one in self._here.values()):
            self._came.setups.refused += 1
            self._came.setups.there -= 1
            self._refuse(here.started_at, STAYS_OPEN)
            return
        here.finished_at, here.finished_version = new.finished_at, self._numbers[new.finished_version]
        self._session.flush()

    def _refuse(self, at: datetime, why: str) -> None:
        self._came.refusals.append(Refusal(self._new.origin, at, why))


def _free_id(session: Session, table: type[Instrument] | type[Setup], wanted: str) -> str:
    """The id it had, unless something else has it here."""
    return new_id() if session.get(table, wanted) is not None else wanted


def _write(
    session: Session, here: Mapping[int, FileEntry], fresh: Sequence[FileEntry], ids: Mapping[str, str]
) -> None:
    """Puts new entries among those that are here, both in their own order, the earlier time first."""
    old, numbers = list(here.values()), list(here)
    stay = next((i for i, one in enumerate(old) if one.at > fresh[0].at), len(old))
    kept = {one.name: number for one, number in zip(old[:stay], numbers[:stay], strict=True)}
    _take_up(session, numbers[stay:])
    seals = Seals(session)
    for one in _merged(old[stay:], fresh):
        entry = one.entry(kept[one.voided] if one.voided else None)
        kept[one.name] = set_down(session, seals, ids[one.setup], one.origin, one.part, entry).id


def _take_up(session: Session, numbers: Sequence[int]) -> None:
    """Takes the last entries of an instrument up, the newest first: an older one is named by a newer one."""
    for end in range(len(numbers), 0, -500):
        some = numbers[max(0, end - 500) : end]
        session.execute(delete(EntryRecord).where(col(EntryRecord.id).in_(some)))


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
