"""Whether an instrument out of a bench file can be lived with here: known kind, readable journals."""

from __future__ import annotations

from datetime import datetime

from webapp.setups.assess import assess_case
from webapp.setups.bench_file.schema import FileInstrument
from webapp.setups.case import Case
from webapp.setups.journal import Entry, Journal
from webapp.setups.past.history import JudgedSetup, newest_by_check
from webapp.setups.past.report import build_report
from webapp.setups.seasons.due import due_of
from webapp.trade.content import Trade
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Side

UNREADABLE = "Something in its journal cannot be read by this Benchside."


def why_unfit(instrument: FileInstrument, trade: Trade, now: datetime) -> str:
    """Why this instrument cannot come in, as a sentence; empty where it can."""
    for version in instrument.versions:
        if version.spec.kind not in trade.kinds:
            return f"Its kind, “{version.spec.kind}”, is not known to this Benchside."
        if not _pickups_known(version.spec, trade):
            return "It has a sort of pickup that is not known on this kind of instrument."
    try:
        _live_through(instrument, trade, now)
    except Exception:
        # Whatever an unlikely file does wrong here, it would do on every page of the bench.
        return UNREADABLE
    return ""


def _pickups_known(spec: InstrumentSpec, trade: Trade) -> bool:
    family = trade.kinds[spec.kind].family
    return all(trade.ranges.pickup_bands(family, p.type, Side.BASS, spec.touch) for p in spec.pickups)


def _live_through(instrument: FileInstrument, trade: Trade, now: datetime) -> None:
    """Judges every setup as the pages would; raises whatever they would raise."""
    journals = _journals(instrument)
    specs = {version.number: version.spec for version in instrument.versions}
    newest = instrument.versions[-1].spec
    past = []
    for setup in instrument.setups:
        spec = specs.get(setup.finished_version or 0, newest)
        case = Case(spec, trade, journals[setup.origin], now)
        found = assess_case(case)
        build_report(case, found, setup.started_at, setup.finished_at)
        past.append(JudgedSetup(setup.id, setup.started_at, setup.finished_at, case, found))
    newest_by_check(past)
    together = Journal.of(entry for journal in journals.values() for entry in journal.entries)
    due_of(Case(newest, trade, together, now))


def _journals(instrument: FileInstrument) -> dict[str, Journal]:
    numbers = {entry.name: number for number, entry in enumerate(instrument.entries, 1)}
    made: dict[str, list[Entry]] = {setup.origin: [] for setup in instrument.setups}
    for entry in instrument.entries:
        voids = numbers[entry.voided] if entry.voided else None
        made[entry.setup].append(entry.entry(voids, numbers[entry.name]))
    return {origin: Journal.of(entries) for origin, entries in made.items()}
