"""A lesson: what a teacher asks of a setup, and how its bands take the place of the table's. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Self

from pydantic import Field, model_validator

from webapp.setups.convert import standard_relief
from webapp.setups.slots import Slot
from webapp.trade.base import TradeModel
from webapp.trade.kinds import Kind
from webapp.trade.load import Trade
from webapp.trade.ranges import INTONATION_HIGH_FRET, INTONATION_LOW_FRET, Band, Bands, TargetUsual
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Check, PickupType, Side, label

LONGEST_TITLE = 80
LONGEST_NOTES = 4000
RELIEF = "relief"
HEIGHT_BASS, HEIGHT_TREBLE = "height_bass", "height_treble"
NUT_WOUND, NUT_PLAIN = "nut_wound", "nut_plain"
INTONATION_12, INTONATION_HIGH = "intonation_12", "intonation_high"

Notes = Annotated[str, Field(max_length=LONGEST_NOTES)]
_UNSEEN = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


def plain_text(text: str) -> str:
    """Text with one kind of line end, and without the signs that no page can show."""
    return _UNSEEN.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))


def pickup_row(kind: PickupType, side: Side) -> str:
    """The row of a pickup's bands: 'pickup_single_bass'."""
    return f"pickup_{kind.value}_{side.value}"


@dataclass(frozen=True)
class BandRow:
    """One pair of bands that a teacher may set: where it is read, and what the kind starts with."""

    key: str
    check: Check
    label: str
    stated: TargetUsual
    plausible: Band

    @property
    def is_cents(self) -> bool:
        return self.check is Check.INTONATION


def rows_of(trade: Trade, kind: Kind) -> tuple[BandRow, ...]:
    """Every row of a kind, in the order of the bench."""
    return tuple(_rows(trade, kind))


def _rows(trade: Trade, kind: Kind) -> Iterator[BandRow]:
    ranges, spec, family = trade.ranges, kind.spec, kind.family

    def row(key: str, check: Check, words: str, bands: Bands) -> BandRow:
        return BandRow(
            key, check, words, TargetUsual(target=bands.target, usual=bands.usual), bands.plausible
        )

    way = standard_relief(spec, ranges.families[family])
    yield row(RELIEF, Check.RELIEF, f"Relief, {way.text}", ranges.relief_bands(family, spec.touch))
    for key, words, across in (
        (HEIGHT_BASS, "Thickest string at fret 12, held at 1", 0.0),
        (HEIGHT_TREBLE, "Thinnest string at fret 12, held at 1", 1.0),
    ):
        yield row(key, Check.HEIGHT, words, ranges.height_bands(family, spec.touch, across))
    for wound, key in ((True, NUT_WOUND), (False, NUT_PLAIN)):
        if any(string.wound is wound for string in spec.strings):
            words = f"{'Wound' if wound else 'Plain'} strings, open, over fret 1"
            yield row(key, Check.NUT, words, ranges.nut_bands(family, wound))
    yield row(INTONATION_12, Check.INTONATION, "At fret 12", ranges.intonation_bands(INTONATION_LOW_FRET))
    high = ranges.intonation_bands(INTONATION_HIGH_FRET)
    yield row(INTONATION_HIGH, Check.INTONATION, "At the high fret", high)
    for type_ in dict.fromkeys(pickup.type for pickup in spec.pickups):
        for side in Side:
            bands = ranges.pickup_bands(family, type_, side, spec.touch)
            if bands is not None:
                words = f"{label(type_).capitalize()}, {side.value} side"
                yield row(pickup_row(type_, side), Check.PICKUPS, words, bands)


def checks_of(trade: Trade, kind: Kind) -> tuple[Check, ...]:
    """The checks that an instrument of this kind has."""
    return tuple(check for check in Check if check is not Check.PICKUPS or kind.spec.pickups)


class LessonCheck(TradeModel):
    """A check that is part of the lesson, and what the teacher says beside it (Markdown)."""

    check: Check
    notes: Notes = ""


class LessonSheet(TradeModel):
    """All that a teacher writes. Bands in mm, or in cents, by the keys of `rows_of`.

    `typed` keeps the texts that lengths were typed as, and `unit` the unit they were typed in.
    """

    title: Annotated[str, Field(min_length=1, max_length=LONGEST_TITLE)]
    kind: Annotated[str, Field(min_length=1, max_length=40)]
    intro: Notes = ""
    checks: Annotated[tuple[LessonCheck, ...], Field(min_length=1, max_length=len(Check))]
    bands: Annotated[dict[str, TargetUsual], Field(max_length=40)] = {}
    typed: Annotated[dict[str, str], Field(max_length=200)] = {}
    unit: Annotated[str, Field(max_length=16)] = "mm"

    @model_validator(mode="after")
    def _each_check_once_in_order(self) -> Self:
        order = list(Check)
        places = [order.index(one.check) for one in self.checks]
        if places != sorted(set(places)):
            raise ValueError("each check stands in a lesson once, in the order of the bench")
        return self

    def notes(self, check: Check) -> str:
        """What the teacher says beside a check; empty where nothing is said."""
        return next((one.notes for one in self.checks if one.check is check), "")

    @property
    def targets(self) -> LessonTargets:
        """What judging needs of it."""
        # Nobody sets up an instrument without looking whether it can be set up at all.
        return LessonTargets(frozenset({Check.START, *(one.check for one in self.checks)}), dict(self.bands))


@dataclass(frozen=True)
class LessonTargets:
    """The checks of a lesson, and its bands. What it does not say is as the table has it."""

    checks: frozenset[Check]
    stated: Mapping[str, TargetUsual]

    def bands(self, spec: InstrumentSpec, slot: Slot, fret: int, table: Bands) -> Bands | None:
        """The lesson's bands for one place; None where the lesson says nothing of it.

        `fret` is the one that an intonation reading is taken at.
        """
        stated = self._stated(spec, slot, fret)
        if stated is None:
            return None
        usual = stated.usual.clamped(table.plausible)
        return Bands(target=stated.target.clamped(usual), usual=usual, plausible=table.plausible)

    def _stated(self, spec: InstrumentSpec, slot: Slot, fret: int) -> TargetUsual | None:
        if slot.check is Check.RELIEF:
            return self.stated.get(RELIEF)
        if slot.check is Check.INTONATION:
            span = INTONATION_HIGH_FRET - INTONATION_LOW_FRET
            return self._between(INTONATION_12, INTONATION_HIGH, (fret - INTONATION_LOW_FRET) / span)
        if slot.pickup is not None and slot.side is not None:
            return self.stated.get(pickup_row(spec.pickups[slot.pickup - 1].type, slot.side))
        if slot.string is None:
            return None
        if slot.check is Check.NUT:
            return self.stated.get(NUT_WOUND if spec.string(slot.string).wound else NUT_PLAIN)
        return self._between(HEIGHT_BASS, HEIGHT_TREBLE, spec.across(slot.string))

    def _between(self, first: str, last: str, share: float) -> TargetUsual | None:
        low, high = self.stated.get(first), self.stated.get(last)
        if low is None or high is None:
            return low or high
        return low.towards(high, min(max(share, 0.0), 1.0))
