"""Between the bench file's models and what the store keeps."""

from __future__ import annotations

from webapp.setups.bench_file.schema import (
    FORMAT,
    VERSION,
    BenchFile,
    EntryName,
    FileAirDay,
    FileEntry,
    FileInstrument,
    FileSetup,
    FileVersion,
)
from webapp.store.air_log.days import AirDay
from webapp.store.bench_file.whole import KeptBench, KeptEntry, KeptInstrument, KeptSetup, KeptVersion
from webapp.trade.spec import InstrumentSpec


def to_file(kept: KeptBench) -> BenchFile:
    """The bench as a file has it."""
    air = tuple(
        FileAirDay.model_validate(
            {
                "day": one.day,
                "source": one.source,
                "temperature_c": one.temperature_c,
                "humidity_percent": one.humidity_percent,
                "rows": one.rows,
            }
        )
        for one in kept.air
    )
    made = tuple(_instrument_to_file(one) for one in kept.instruments)
    return BenchFile.model_validate(
        {"format": FORMAT, "version": VERSION, "unit": kept.unit, "instruments": made, "air": air}
    )


def _instrument_to_file(kept: KeptInstrument) -> FileInstrument:
    return FileInstrument(
        id=kept.id,
        origin=kept.origin,
        created_at=kept.created_at,
        archived_at=kept.archived_at,
        versions=tuple(
            FileVersion(
                number=one.number,
                created_at=one.created_at,
                spec=InstrumentSpec.model_validate_json(one.spec_json),
            )
            for one in kept.versions
        ),
        setups=tuple(FileSetup(**vars(one)) for one in kept.setups),
        entries=tuple(_entry_to_file(one) for one in kept.entries),
    )


def _entry_to_file(kept: KeptEntry) -> FileEntry:
    voids = EntryName(origin=kept.voids[1], part=kept.voids[2]) if kept.voids else None
    return FileEntry.model_validate({**vars(kept), "voids": voids})


def from_file(file: BenchFile) -> KeptBench:
    """The bench as the store takes it in."""
    air = tuple(
        AirDay(one.day, one.temperature_c, one.humidity_percent, one.rows, one.source) for one in file.air
    )
    return KeptBench(file.unit, tuple(_instrument_from_file(one) for one in file.instruments), air)


def _instrument_from_file(one: FileInstrument) -> KeptInstrument:
    return KeptInstrument(
        id=one.id,
        origin=one.origin,
        created_at=one.created_at,
        archived_at=one.archived_at,
        versions=tuple(KeptVersion(v.number, v.created_at, v.spec.model_dump_json()) for v in one.versions),
        setups=tuple(
            KeptSetup(s.id, s.origin, s.started_at, s.finished_at, s.finished_version) for s in one.setups
        ),
        entries=tuple(_entry_from_file(entry) for entry in one.entries),
    )


def _entry_from_file(entry: FileEntry) -> KeptEntry:
    return KeptEntry(
        setup=entry.setup,
        origin=entry.origin,
        part=entry.part,
        at=entry.at,
        kind=entry.kind.value,
        check=entry.check.value,
        slot=entry.slot,
        value=entry.value,
        unit=entry.unit,
        typed=entry.typed,
        tool=entry.tool,
        error=entry.error,
        detail=dict(entry.detail),
        voids=(entry.setup, entry.voids.origin, entry.voids.part) if entry.voids else None,
    )
