"""The bands a reading is judged by: target (this player), usual (the trade), plausible (believable)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Literal, Self

from pydantic import Field, PrivateAttr, ValidationError, model_validator

from webapp.trade.words import Family, PickupType, Side, Touch, TradeModel

# The intonation bands are given at these two frets. From fret 17 up the higher fret's band is used whole,
# since a player reads the highest fret that is comfortable instead of 19.
INTONATION_LOW_FRET = 12
INTONATION_HIGH_FRET = 17
MOST_MADE = 4096


class Band(TradeModel):
    """A closed interval. Written as [low, high] in the content files."""

    low: float
    high: float

    @model_validator(mode="before")
    @classmethod
    def _from_pair(cls, raw: Any) -> Any:
        if isinstance(raw, (list, tuple)):
            if len(raw) != 2:
                raise ValueError("a band is two numbers, [low, high]")
            return {"low": raw[0], "high": raw[1]}
        return raw

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.low > self.high:
            raise ValueError(f"the low end {self.low:g} is above the high end {self.high:g}")
        return self

    @property
    def middle(self) -> float:
        """The middle of the band."""
        return (self.low + self.high) / 2

    @property
    def width(self) -> float:
        """From the low end to the high end."""
        return self.high - self.low

    def contains(self, value: float) -> bool:
        """Whether the value lies in the band, its ends included."""
        return self.low <= value <= self.high

    def holds(self, other: Band) -> bool:
        """Whether the other band lies wholly inside this one."""
        return self.low <= other.low and other.high <= self.high

    def shifted(self, by: float) -> Band:
        """The band moved as a whole."""
        return Band(low=self.low + by, high=self.high + by)

    def clamped(self, within: Band) -> Band:
        """The part of the band that lies within another: each end is brought to the nearest allowed value."""
        low = min(max(self.low, within.low), within.high)
        high = min(max(self.high, within.low), within.high)
        return Band(low=low, high=high)

    def towards(self, other: Band, share: float) -> Band:
        """The band `share` of the way (0 to 1) from this one to the other, in a straight line."""
        return Band(
            low=self.low + (other.low - self.low) * share, high=self.high + (other.high - self.high) * share
        )


class Bands(TradeModel):
    """The three bands of one reading, each inside the next."""

    target: Band
    usual: Band
    plausible: Band

    @model_validator(mode="after")
    def _nested(self) -> Self:
        _check_nested(self.target, self.usual, self.plausible)
        return self


class TargetUsual(TradeModel):
    """The two bands a content file states for a quantity."""

    target: Band
    usual: Band

    @model_validator(mode="after")
    def _nested(self) -> Self:
        _check_nested(self.target, self.usual)
        return self

    def towards(self, other: TargetUsual, share: float) -> TargetUsual:
        """Both bands part of the way to another pair's."""
        return TargetUsual(
            target=self.target.towards(other.target, share), usual=self.usual.towards(other.usual, share)
        )


def _check_nested(target: Band, usual: Band, plausible: Band | None = None) -> None:
    if not usual.holds(target):
        raise ValueError("the target band must lie inside the usual band")
    if plausible is not None and not plausible.holds(usual):
        raise ValueError("the usual band must lie inside the plausible band")


class ReliefRange(TargetUsual):
    """Relief bands, and the three frets they are read with: held, pressed ("joint" = the joint fret), gap."""

    hold: Annotated[int, Field(ge=0, le=12)]
    press: Annotated[int, Field(ge=5, le=36)] | Literal["joint"]
    gap: Annotated[int, Field(ge=1, le=24)]

    def press_fret(self, joint_fret: int) -> int:
        """The fret to press on an instrument whose neck meets the body at `joint_fret`."""
        return joint_fret if self.press == "joint" else self.press


class TouchShift(TradeModel):
    """How far a lighter or firmer touch moves the targets, in mm."""

    relief_mm: float = 0.0
    height_mm: float = 0.0
    pickup_mm: float = 0.0


class PickupRange(TradeModel):
    """Bands for one type of pickup, at its bass and its treble side, string pressed at the last fret."""

    bass: TargetUsual
    treble: TargetUsual

    def side(self, side: Side) -> TargetUsual:
        """The bands of one side."""
        return self.bass if side is Side.BASS else self.treble


class FamilyRanges(TradeModel):
    """Every band of one family, for a medium touch, and the shifts for the other touches."""

    relief: ReliefRange
    height_bass: TargetUsual
    height_treble: TargetUsual
    nut_wound: TargetUsual
    nut_plain: TargetUsual
    pickups: dict[PickupType, PickupRange] = {}
    light: TouchShift
    firm: TouchShift

    def shift(self, touch: Touch) -> TouchShift:
        """The shift of a touch; medium has none."""
        return {Touch.LIGHT: self.light, Touch.FIRM: self.firm}.get(touch, TouchShift())


class Plausible(TradeModel):
    """Outside these the reading itself is doubted. Millimetres, and cents for intonation."""

    relief: Band
    height: Band
    nut: Band
    pickup: Band
    intonation: Band


class IntonationRange(TradeModel):
    """Bands of the fretted note's error in cents, at fret 12 and at fret 19."""

    at_12: TargetUsual
    at_19: TargetUsual


class Ranges(TradeModel):
    """All bands. Ask it for the bands of one reading of one family and touch."""

    plausible: Plausible
    intonation: IntonationRange
    level: Bands
    families: dict[Family, FamilyRanges]
    _made: dict[tuple[object, ...], Bands] = PrivateAttr(default_factory=dict)

    @model_validator(mode="after")
    def _every_family_and_reading(self) -> Self:
        missing = [family.value for family in Family if family not in self.families]
        if missing:
            raise ValueError(f"no bands for the family {', '.join(missing)}")
        for family in Family:
            try:
                self._try_every_reading(family)
            except ValidationError as error:
                reason = error.errors()[0]["msg"].removeprefix("Value error, ")
                raise ValueError(f"in the family {family.value}, {reason}") from error
        for fret in (INTONATION_LOW_FRET, INTONATION_HIGH_FRET):
            self.intonation_bands(fret)
        return self

    def _try_every_reading(self, family: Family) -> None:
        for touch in Touch:
            self.relief_bands(family, touch)
            for across in (0.0, 1.0):
                self.height_bands(family, touch, across)
            for type_ in PickupType:
                for side in Side:
                    self.pickup_bands(family, type_, side, touch)
        for wound in (False, True):
            self.nut_bands(family, wound)

    def relief_bands(self, family: Family, touch: Touch) -> Bands:
        """Relief as read with the family's own three frets."""

        def make() -> Bands:
            ranges = self.families[family]
            return _shifted(ranges.relief, ranges.shift(touch).relief_mm, self.plausible.relief)

        return self._once(("relief", family, touch), make)

    def height_bands(self, family: Family, touch: Touch, across: float) -> Bands:
        """String height at 12, held at 1; `across` runs from 0 (bass string) to 1 (treble string)."""

        def make() -> Bands:
            ranges = self.families[family]
            stated = ranges.height_bass.towards(ranges.height_treble, min(max(across, 0.0), 1.0))
            return _shifted(stated, ranges.shift(touch).height_mm, self.plausible.height)

        return self._once(("height", family, touch, across), make)

    def nut_bands(self, family: Family, wound: bool) -> Bands:
        """Gap of the open string over fret 1."""

        def make() -> Bands:
            ranges = self.families[family]
            return _shifted(ranges.nut_wound if wound else ranges.nut_plain, 0.0, self.plausible.nut)

        return self._once(("nut", family, wound), make)

    def pickup_bands(self, family: Family, type: PickupType, side: Side, touch: Touch) -> Bands | None:
        """Gap from pickup to string pressed at the last fret; None where the family has no such pickup."""
        ranges = self.families[family]
        stated = ranges.pickups.get(type)
        if stated is None:
            return None
        by = ranges.shift(touch).pickup_mm
        what = ("pickup", family, type, side, touch)
        return self._once(what, lambda: _shifted(stated.side(side), by, self.plausible.pickup))

    def level_bands(self, level_mm: float | None) -> Bands:
        """A floating bridge against parallel to the body, or against the gap that its maker states."""
        at, level = level_mm or 0.0, self.level
        return Bands(
            target=level.target.shifted(at), usual=level.usual.shifted(at), plausible=level.plausible
        )

    def intonation_bands(self, fret: int) -> Bands:
        """Error in cents at a fret: the band at 12 up to it, that at 19 from 17 up, between them a line."""

        def make() -> Bands:
            span = INTONATION_HIGH_FRET - INTONATION_LOW_FRET
            share = min(max((fret - INTONATION_LOW_FRET) / span, 0.0), 1.0)
            stated = self.intonation.at_12.towards(self.intonation.at_19, share)
            return _shifted(stated, 0.0, self.plausible.intonation)

        return self._once(("intonation", fret), make)

    def _once(self, what: tuple[object, ...], make: Callable[[], Bands]) -> Bands:
        """Judging a setup asks for some thirty bands, and there are not many different ones."""
        found = self._made.get(what)
        if found is None:
            if len(self._made) >= MOST_MADE:
                self._made.clear()
            found = self._made[what] = make()
        return found


def _shifted(stated: TargetUsual, by: float, plausible: Band) -> Bands:
    # A touch moves the target only: what repairers accept does not depend on who plays.
    target = stated.target.shifted(by).clamped(stated.usual)
    return Bands(target=target, usual=stated.usual, plausible=plausible)
