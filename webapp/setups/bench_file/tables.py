"""A bench as tables for a spreadsheet: one for each sort of thing, in plain columns."""

from __future__ import annotations

import json
from collections.abc import Iterator

from webapp.physics.numbers import write_number
from webapp.setups.bench_file.schema import BenchFile, FileEntry, FileInstrument
from webapp.setups.csv_text import Cell, csv_text

READ_ME = """\
A bench of Benchside as tables.

instruments.csv  each instrument as it is described now
setups.csv       each setup and quick check
entries.csv      everything recorded, struck-out entries too; value and error are in value_unit
air.csv          the mean of each day's air

Times are UTC. Lengths are millimetres, tuning errors cents; "typed" is what was typed, in "typed_unit".
String 1 is the thinnest. Texts that begin like a formula have an apostrophe in front.
These tables are for reading on. To move a bench, use the JSON file: only that can be taken in again.
"""
_INSTRUMENTS = (
    "instrument", "name", "kind", "touch", "scale_bass_mm", "scale_treble_mm", "frets", "strings",
    "gauges_mm", "described_at", "taken_off_the_bench_at",
)  # fmt: skip
_SETUPS = ("setup", "instrument", "name", "started_at", "finished_at")
_ENTRIES = (
    "instrument", "setup", "at", "kind", "check", "place", "value", "value_unit", "error", "typed",
    "typed_unit", "tool", "struck_out", "temperature_c", "humidity_percent", "detail",
)  # fmt: skip
_AIR = ("day", "source", "temperature_c", "humidity_percent", "readings")


def tables(bench: BenchFile) -> dict[str, str]:
    """File names and their texts."""
    return {
        "read me.txt": READ_ME,
        "instruments.csv": csv_text(_INSTRUMENTS, map(_instrument, bench.instruments)),
        "setups.csv": csv_text(_SETUPS, (row for one in bench.instruments for row in _setups(one))),
        "entries.csv": csv_text(_ENTRIES, (row for one in bench.instruments for row in _entries(one))),
        "air.csv": csv_text(
            _AIR, ((d.day, d.source, d.temperature_c, d.humidity_percent, d.rows) for d in bench.air)
        ),
    }


def _instrument(one: FileInstrument) -> tuple[Cell, ...]:
    newest = one.versions[-1]
    spec = newest.spec
    return (
        one.id, spec.name, spec.kind, spec.touch.value, spec.scale_bass_mm, spec.scale_treble_mm,
        spec.fret_count, " ".join("/".join(string.note for string in s.course) for s in spec.strings),
        " ".join("/".join(write_number(string.gauge_mm) for string in s.course) for s in spec.strings),
        newest.created_at, one.archived_at,
    )  # fmt: skip


def _setups(one: FileInstrument) -> Iterator[tuple[Cell, ...]]:
    for setup in one.setups:
        yield setup.id, one.id, one.name, setup.started_at, setup.finished_at


def _entries(one: FileInstrument) -> Iterator[tuple[Cell, ...]]:
    ids = {setup.origin: setup.id for setup in one.setups}
    struck = {entry.voided for entry in one.entries}
    for entry in one.entries:
        yield one.id, ids[entry.setup], *_entry(entry, entry.name in struck)


def _entry(entry: FileEntry, struck: bool) -> tuple[Cell, ...]:
    detail = dict(entry.detail)
    temperature, humidity = detail.pop("temperature_c", None), detail.pop("humidity_percent", None)
    unit = "" if entry.value is None else "cents" if entry.unit == "cents" else "mm"
    return (
        entry.at, entry.kind.value, entry.check.value, entry.slot, entry.value, unit, entry.error,
        entry.typed, entry.unit, entry.tool, "yes" if struck else "",
        temperature if isinstance(temperature, int | float) else None,
        humidity if isinstance(humidity, int | float) else None,
        json.dumps(detail, ensure_ascii=False) if detail else "",
    )  # fmt: skip
