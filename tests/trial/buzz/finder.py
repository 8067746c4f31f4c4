"""The product's buzz finder, asked about a planted instrument. Only this module of the buzz trial knows
the product."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

from tests.trial.buzz.player import Told
from tests.trial.kinds import KINDS
from webapp.setups.belief.reading import entry_detail
from webapp.setups.buzz.finder import Cause, findings
from webapp.setups.buzz_marks import CAUSE
from webapp.setups.case import Case
from webapp.setups.checks.height import BUZZ
from webapp.setups.journal import START_PLACE, Entry, EntryKind, Journal
from webapp.trade.content import Trade, load_trade
from webapp.trade.words import Check, Touch


@lru_cache(maxsize=1)
def the_trade() -> Trade:
    return load_trade(Path(__file__).parents[3] / "content")


START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def asked(told: Told) -> tuple[Cause, ...]:
    """The causes, the likeliest first."""
    return findings(case_of(told)).causes


def case_of(told: Told) -> Case:
    """The setup with everything in it that the player told, two minutes between two entries."""
    entries: list[Entry] = []

    def record(kind: EntryKind, slot: str, detail: dict[str, Any], **more: Any) -> None:
        number = len(entries) + 1
        at = START + timedelta(minutes=2 * number)
        check = Check(slot.split(".")[0])
        entries.append(Entry(kind, check, slot, detail=detail, **more, id=number, at=at))

    trade = the_trade()
    record(EntryKind.OBSERVATION, START_PLACE, {"done": [], "age": told.age, "stoppers": []})
    for slot, reading in told.readings:
        check = Check(slot.split(".")[0])
        value, detail = entry_detail(
            trade, trade.method(check, reading.method), reading.value, reading.answer, reading.step
        )
        detail |= _way(told, slot)
        unit = "cents" if check is Check.INTONATION else "mm"
        record(EntryKind.READING, slot, detail, value=value, unit=unit, tool=reading.method)
    record(EntryKind.OBSERVATION, BUZZ, {"taps": [list(m) for m in told.marks], "touch": Touch.MEDIUM.value})
    for name, answer in told.answers.items():
        record(EntryKind.OBSERVATION, CAUSE, {"asked": name, "answer": answer})
    now = entries[-1].at + timedelta(minutes=1)
    return Case(trade.kinds[told.kind].spec, trade, Journal.of(entries), now)


def _way(told: Told, slot: str) -> dict[str, int]:
    """Which frets a reading used: the family's usual ones."""
    kind = KINDS[told.kind]
    if slot == "relief":
        return dict(zip(("hold", "press", "gap"), kind.standard, strict=True))
    if slot.startswith("height"):
        return {"hold": 1, "gap": 12}
    if slot.startswith("intonation"):
        return {"fret": kind.high_fret if slot.endswith("high") else 12}
    return {}
