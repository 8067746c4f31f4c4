"""A lesson as it is read: by its teacher, by a student with the link, beside a student's setup, on paper."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.physics.lengths import Unit
from webapp.setups.lesson import LessonSheet
from webapp.setups.lessons.lesson_text import notes_html
from webapp.setups.lessons.rows import rows_of
from webapp.setups.say import Say, capital
from webapp.trade.content import Trade
from webapp.trade.ranges import Band
from webapp.trade.words import Check, label


@dataclass(frozen=True)
class BandLine:
    """One reading's bands in words."""

    label: str
    target: str
    usual: str


@dataclass(frozen=True)
class CheckView:
    """One check of the lesson; `html` is what the teacher says, made safe."""

    name: str
    html: str
    bands: tuple[BandLine, ...]


@dataclass(frozen=True)
class LessonView:
    title: str
    kind: str
    html: str
    checks: tuple[CheckView, ...]


def lesson_view(sheet: LessonSheet, trade: Trade, unit: Unit | None = None) -> LessonView:
    """The lesson in words, its lengths in `unit`, or in the unit that the teacher typed them in."""
    say = Say(unit or _unit(sheet))
    kind = trade.kinds.get(sheet.kind)
    return LessonView(
        title=sheet.title,
        kind=kind.name if kind else sheet.kind,
        html=notes_html(sheet.intro),
        checks=tuple(
            CheckView(
                name=capital(label(one.check)),
                html=notes_html(one.notes),
                bands=_lines(sheet, trade, one.check, say),
            )
            for one in sheet.checks
        ),
    )


def _unit(sheet: LessonSheet) -> Unit:
    return Unit(sheet.unit) if sheet.unit in [unit.value for unit in Unit] else Unit.mm


def _lines(sheet: LessonSheet, trade: Trade, check: Check, say: Say) -> tuple[BandLine, ...]:
    kind = trade.kinds.get(sheet.kind)
    if kind is None:
        return ()
    rows = [row for row in rows_of(trade, kind) if row.check is check]
    found = ((row, sheet.bands.get(row.key, row.stated)) for row in rows)
    return tuple(
        BandLine(row.label, _band(bands.target, row.is_cents, say), _band(bands.usual, row.is_cents, say))
        for row, bands in found
    )


def _band(band: Band, is_cents: bool, say: Say) -> str:
    return (say.cents_band if is_cents else say.band)(band.low, band.high)
