"""What of one bench the disk changed, and what of it is as it was recorded, as far as it can be read."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from webapp.store.seal_sums import ENTRY, SEALED, sum_of
from webapp.store.seals import Asked, Broken, broken, quoted, told_entries

INSTRUMENT_TABLES = ("instrument", "instrument_version")


@dataclass(frozen=True)
class SetupFound:
    """A setup: its line and its entries are `whole`, or they are not. `started_at` is what stands there."""

    id: str
    instrument_id: str
    started_at: Any
    line_whole: bool
    entries_whole: bool

    @property
    def whole(self) -> bool:
        return self.line_whole and self.entries_whole


@dataclass(frozen=True)
class InstrumentFound:
    """An instrument: whether its own lines are `whole`, and its newest description that is (empty: none)."""

    id: str
    spec_json: str
    whole: bool


@dataclass(frozen=True)
class BenchFound:
    """Instruments, the oldest first; setups, the newest first; and whether the bench's air is whole."""

    instruments: tuple[InstrumentFound, ...] = ()
    setups: tuple[SetupFound, ...] = ()
    air_whole: bool = True

    def is_whole(self, instrument: InstrumentFound) -> bool:
        """Whether an instrument and all that was done on it are as they were recorded."""
        mine = (setup for setup in self.setups if setup.instrument_id == instrument.id)
        return instrument.whole and all(setup.whole for setup in mine)


def of_bench(ask: Asked, bench_id: str) -> BenchFound | None:
    """One bench, where anything in the whole database is not as it was recorded; else None."""
    found = list(broken(ask))
    if not found:
        return None
    instruments = _instruments(ask, bench_id, _ids(found, *INSTRUMENT_TABLES))
    air = any(one.table == "air_day" and one.ids[0] == bench_id for one in found)
    setups = _setups(ask, {one.id for one in instruments}, _ids(found, "setup"), _ids(found, ENTRY))
    return BenchFound(instruments, setups, not air)


def sound_lines(ask: Asked, setup_id: str) -> list[Mapping[str, Any]]:
    """The entries of one setup that are as they were recorded, oldest first."""
    return [told for setup, good, told in told_entries(ask) if good and setup == setup_id]


def _ids(found: Collection[Broken], *tables: str) -> set[str]:
    return {one.ids[0] for one in found if one.table in tables}


def _instruments(ask: Asked, bench_id: str, hurt: Collection[str]) -> tuple[InstrumentFound, ...]:
    names = SEALED["instrument_version"]
    specs = {}
    for *told, seal in ask(f"SELECT {quoted(names)}, seal FROM instrument_version ORDER BY number"):
        if sum_of("instrument_version", told) == seal:
            specs[str(told[0])] = str(told[names.index("spec")])
    lines = ask("SELECT id, bench_id FROM instrument ORDER BY created_at, id")
    mine = [str(name) for name, bench in lines if bench == bench_id]
    return tuple(InstrumentFound(name, specs.get(name, ""), name not in hurt) for name in mine)


def _setups(
    ask: Asked, instruments: Collection[str], lines: Collection[str], entries: Collection[str]
) -> tuple[SetupFound, ...]:
    found = ask("SELECT id, instrument_id, started_at FROM setup ORDER BY started_at DESC")
    return tuple(
        SetupFound(str(name), str(of), at, str(name) not in lines, str(name) not in entries)
        for name, of, at in found
        if str(of) in instruments
    )
