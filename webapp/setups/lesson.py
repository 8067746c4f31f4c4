"""A lesson: what a teacher asks of a setup, and how its bands take the place of the table's. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Self

from pydantic import Field, model_validator

from webapp.setups.slots import RELIEF, Slot
from webapp.trade.ranges import INTONATION_HIGH_FRET, INTONATION_LOW_FRET, Band, Bands, TargetUsual
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Check, PickupType, Side, TradeModel

LONGEST_TITLE = 80
LONGEST_NOTES = 4000
HEIGHT_BASS, HEIGHT_TREBLE = "height_bass", "height_treble"
NUT_WOUND, NUT_PLAIN = "nut_wound", "nut_plain"
INTONATION_12, INTONATION_HIGH = "intonation_12", "intonation_high"

KindKey = Annotated[str, Field(min_length=1, max_length=40)]
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
    """One pair of bands that a teacher may set: where it is read, and what the kind starts with.

    Nothing is `stated` for several kinds that start differently: each keeps its own, unless the teacher
    sets it.
    """

    key: str
    check: Check
    label: str
    stated: TargetUsual | None
    plausible: Band

    @property
    def is_cents(self) -> bool:
        return self.check.is_cents


class LessonCheck(TradeModel):
    """A check that is part of the lesson, and what the teacher says beside it (Markdown)."""

    check: Check
    notes: Notes = ""


class LessonSheet(TradeModel):
    """All that a teacher writes. Bands in mm, or in cents, by the keys of their rows.

    `typed` keeps the texts that lengths were typed as, and `unit` the unit they were typed in.
    """

    title: Annotated[str, Field(min_length=1, max_length=LONGEST_TITLE)]
    kinds: Annotated[tuple[KindKey, ...], Field(min_length=1, max_length=40)]
    intro: Notes = ""
    checks: Annotated[tuple[LessonCheck, ...], Field(min_length=1, max_length=len(Check))]
    bands: Annotated[dict[str, TargetUsual], Field(max_length=40)] = {}
    typed: Annotated[dict[str, str], Field(max_length=200)] = {}
    unit: Annotated[str, Field(max_length=16)] = "mm"

    @model_validator(mode="before")
    @classmethod
    def _once_of_one_kind(cls, data: Any) -> Any:
        """Lessons that were kept, or exported, when each was for one kind."""
        if isinstance(data, dict) and "kind" in data:
            return {"kinds": [data["kind"]], **{key: told for key, told in data.items() if key != "kind"}}
        return data

    @model_validator(mode="after")
    def _each_once_in_order(self) -> Self:
        order = list(Check)
        places = [order.index(one.check) for one in self.checks]
        if places != sorted(set(places)):
            raise ValueError("each check stands in a lesson once, in the order of the bench")
        if len(set(self.kinds)) < len(self.kinds):
            raise ValueError("each kind stands in a lesson once")
        return self

    def notes(self, check: Check) -> str:
        """What the teacher says beside a check; empty where nothing is said."""
        return next((one.notes for one in self.checks if one.check is check), "")

    @property
    def targets(self) -> LessonTargets:
        """What judging needs of it."""
        # Nobody sets up an instrument without looking whether it can be set up at all.
        chosen = {one.check for one in self.checks} | {check for check in Check if check.is_preparation}
        return LessonTargets(frozenset(chosen), dict(self.bands))


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
        if slot == RELIEF:
            return self.stated.get(RELIEF.key)
        if slot.is_cents:
            span = INTONATION_HIGH_FRET - INTONATION_LOW_FRET
            return self._between(INTONATION_12, INTONATION_HIGH, (fret - INTONATION_LOW_FRET) / span)
        if slot.pickup is not None and slot.side is not None:
            return self.stated.get(pickup_row(spec.pickups[slot.pickup - 1].type, slot.side))
        if slot.string is None:
            return None
        if slot.over_neck:
            return self._between(HEIGHT_BASS, HEIGHT_TREBLE, spec.across(slot.string))
        return self.stated.get(NUT_WOUND if spec.string(slot.string).wound else NUT_PLAIN)

    def _between(self, first: str, last: str, share: float) -> TargetUsual | None:
        low, high = self.stated.get(first), self.stated.get(last)
        if low is None or high is None:
            return low or high
        return low.towards(high, min(max(share, 0.0), 1.0))
