"""Fills the demo bench, once, from the invented story in content/demo.toml."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import groupby
from typing import Any

from sqlalchemy import Engine

from webapp.setups.checks import height, pickups, playtest, start
from webapp.setups.checks.common import KEPT
from webapp.setups.journal import EntryKind, Part, Turn
from webapp.setups.say import Say
from webapp.setups.turns import turn_detail, turn_words
from webapp.store import benches, entries, instruments, setups
from webapp.store.engine import Session, writing
from webapp.store.entries import NewEntry
from webapp.trade.demo import (
    DemoAcceptance,
    DemoInstrument,
    DemoNote,
    DemoObservation,
    DemoReading,
    DemoSetup,
    DemoTurn,
)
from webapp.trade.load import Trade
from webapp.trade.words import Check

BETWEEN_ENTRIES = timedelta(minutes=2)


def fill(engine: Engine, trade: Trade, now: datetime) -> None:
    """Puts the demo instruments and their past setups on an empty bench; a filled one is left alone."""
    with writing(engine) as session:
        bench = benches.get_or_create_local_bench(session, is_demo=True)
        if instruments.list_all(session, bench.id, archived=True):
            return
        for number, instrument in enumerate(trade.demo.instrument):
            _add(session, bench.id, f"demo-{number}", instrument, trade, now)


def _add(
    session: Session, bench_id: str, form_id: str, instrument: DemoInstrument, trade: Trade, now: datetime
) -> None:
    spec = instrument.spec_from(trade.kinds[instrument.kind].spec)
    instrument_id = instruments.add(session, bench_id, form_id, spec.model_dump_json())
    for number, story in enumerate(instrument.setup):
        at = now - timedelta(days=story.days_ago)
        setup_id = setups.start(session, bench_id, instrument_id, f"demo-{number}", at)
        for step, entry in enumerate(journal_of(story, trade, bool(spec.pickups))):
            at += BETWEEN_ENTRIES
            entries.append(session, bench_id, setup_id, f"demo-{step}", {}, [entry], at)
        if story.finished:
            setups.finish(session, bench_id, setup_id, 1, at + BETWEEN_ENTRIES)


def journal_of(story: DemoSetup, trade: Trade, has_pickups: bool) -> list[NewEntry]:
    """The story as the pages would have recorded it: questions that are asked together become one entry.

    The story tells only what was heard. That nothing (more) was heard is recorded when a check is left.
    """
    made: list[NewEntry] = []
    chapters = [(check, list(told)) for check, told in groupby(story.entry, key=lambda entry: entry.check)]
    for number, (check, told) in enumerate(chapters):
        for asked, some in groupby(told, key=lambda entry: isinstance(entry, DemoObservation)):
            if asked:
                made.append(_answers(check, [entry for entry in some if isinstance(entry, DemoObservation)]))
            else:
                made += [_one(entry, trade) for entry in some if not isinstance(entry, DemoObservation)]
        left = number + 1 < len(chapters)
        listens = check is Check.HEIGHT or (check is Check.PICKUPS and has_pickups)
        if left and listens and not isinstance(told[-1], DemoObservation):
            made.append(_answers(check, []))
    return made


def _answers(check: Check, told: list[DemoObservation]) -> NewEntry:
    place, detail = _question(check, told)
    return NewEntry(EntryKind.OBSERVATION.value, check.value, place, detail=detail)


def _question(check: Check, told: list[DemoObservation]) -> tuple[str, dict[str, Any]]:
    names = [entry.slot.split(".", 1)[1] for entry in told]
    if check is Check.START:
        return start.PLACE, {"done": names, "age": "weeks", "stoppers": []}
    if check is Check.HEIGHT:
        taps = [[int(part) for part in name.split(".")] for name in names]
        return height.BUZZ, {"taps": taps, "touch": "medium"}
    if check is Check.PICKUPS:
        return pickups.EAR, {"heard": names}
    return playtest.PLACE, {"symptoms": [], playtest.SIGNED: True}


def _one(entry: DemoReading | DemoTurn | DemoAcceptance | DemoNote, trade: Trade) -> NewEntry:
    if isinstance(entry, DemoReading):
        return _reading(entry, trade)
    if isinstance(entry, DemoTurn):
        return _turn(entry)
    if isinstance(entry, DemoAcceptance):
        slot, _ = _slot(entry.slot)
        detail = {"answer": KEPT}
        return NewEntry(
            EntryKind.OBSERVATION.value, entry.check.value, slot, typed=entry.note, detail=detail
        )
    return NewEntry(EntryKind.NOTE.value, entry.check.value, entry.check.value, typed=entry.text)


def _reading(entry: DemoReading, trade: Trade) -> NewEntry:
    slot, detail = _slot(entry.slot)
    frets = {"hold": entry.hold, "press": entry.press, "gap": entry.gap}
    method = trade.method(entry.check, entry.method)
    tool = trade.tools[method.tool]
    return NewEntry(
        EntryKind.READING.value,
        entry.check.value,
        slot,
        value=entry.value,
        unit=entry.unit,
        typed=entry.typed,
        tool=method.tool,
        error=tool.error_cents if entry.unit == "cents" else tool.error_mm,
        detail=detail | {"method": entry.method} | {name: fret for name, fret in frets.items() if fret is not None},
    )


def _turn(entry: DemoTurn) -> NewEntry:
    place = {
        "rod": "relief",
        "saddle_height": f"height.{entry.string}" if entry.string else "height",
        "saddle_position": f"intonation.{entry.string}.12",
        "pickup_height": f"pickups.{entry.pickup}.{entry.side}",
        "nut": f"nut.{entry.string}",
    }[entry.what]
    turn = Turn(Part(entry.what), entry.eighths, entry.string, entry.pickup, entry.side)
    return NewEntry(
        EntryKind.ADJUSTMENT.value,
        entry.check.value,
        place,
        typed=turn_words(Say(), turn),
        detail=turn_detail(turn),
    )


def _slot(told: str) -> tuple[str, dict[str, Any]]:
    """The second intonation reading is kept under "high", with its fret beside it."""
    parts = told.split(".")
    if parts[0] == "intonation" and parts[2] != "12":
        return f"intonation.{parts[1]}.high", {"fret": int(parts[2])}
    return told, {}
