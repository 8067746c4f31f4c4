"""What is known of an instrument, the kinds that it may start from, and its screws' threads."""

from __future__ import annotations

import re
from typing import Annotated, Self

from pydantic import Field, field_validator, model_validator

from webapp.trade.tools import Key
from webapp.trade.words import (
    BridgeType,
    Family,
    Fitting,
    PickupAdjust,
    PickupPosition,
    PickupType,
    RodAccess,
    RodNut,
    RodType,
    Rotation,
    ScrewHeads,
    Touch,
    TradeModel,
    rod_nut_end,
)

NOTE = re.compile(r"[A-G][#b]?[0-8]")
UNKNOWN = "unknown"
NO_SCREW = "none"

ScaleMm = Annotated[float, Field(ge=300, le=1200)]
RadiusMm = Annotated[float, Field(ge=100, le=2000)]
ThreadKey = Annotated[str, Field(min_length=1, max_length=20)]


class OneString(TradeModel):
    """One string: its open note, its thickness, whether it is wound."""

    note: str
    gauge_mm: Annotated[float, Field(ge=0.1, le=5)]
    wound: bool

    @field_validator("note")
    @classmethod
    def _note_reads(cls, note: str) -> str:
        if not NOTE.fullmatch(note):
            raise ValueError("a note is a letter A to G, perhaps # or b, and an octave 0 to 8, such as E1")
        return note


class StringSpec(OneString):
    """One string or course: with its weight where a packet says so, and the thinner `partner` of a pair.

    A course of two is read, set and counted as one string, by the thicker of them; both pull on the neck.
    """

    unit_weight_kg_m: Annotated[float, Field(gt=0, le=0.2)] | None = None
    partner: OneString | None = None

    @model_validator(mode="after")
    def _partner_is_thinner(self) -> Self:
        if self.partner is not None and self.partner.gauge_mm > self.gauge_mm:
            raise ValueError("the second string of a course is no thicker than the first")
        return self

    @property
    def course(self) -> tuple[OneString, ...]:
        """The strings that stand here: one, or the two of a pair with the thicker first."""
        return (self, self.partner) if self.partner else (self,)


class RodSpec(TradeModel):
    """The truss rod. `tightens` is the turn that adds tension, seen looking straight at the rod's nut."""

    type: RodType
    nut_at: RodNut = RodNut.HEADSTOCK
    access: RodAccess = RodAccess.OPEN
    tightens: Rotation = Rotation.CLOCKWISE
    key_size: Annotated[str, Field(max_length=40)] = ""


class BridgeSpec(TradeModel):
    """The bridge. A thread is a key of threads.toml, "unknown", or "none" where there is no such screw.

    `level_mm` is the gap between a floating bridge's rear edge and the body where its maker wants it; None:
    parallel to the body.
    """

    type: BridgeType
    height_thread: ThreadKey = UNKNOWN
    intonation_thread: ThreadKey = UNKNOWN
    intonation_heads: ScrewHeads = ScrewHeads.BEHIND
    post_spacing_mm: Annotated[float, Field(ge=20, le=200)] | None = None
    level_mm: Annotated[float, Field(ge=0, le=20)] | None = None


class PickupSpec(TradeModel):
    """One pickup, counted from the neck in the instrument's list."""

    position: PickupPosition
    type: PickupType
    adjust: PickupAdjust
    thread: ThreadKey = UNKNOWN


class OwnSwing(TradeModel):
    """The player's own touch, found by test: the swing of one open string, and how sure that is, in mm."""

    string: Annotated[int, Field(ge=1, le=12)]
    swing_mm: Annotated[float, Field(gt=0, le=20)]
    error_mm: Annotated[float, Field(ge=0, le=20)]


class InstrumentSpec(TradeModel):
    """Everything about an instrument that the sums and the advice need.

    `assumed`: only its name, kind and touch were told; the rest is what its kind filled in.
    """

    kind: Annotated[str, Field(min_length=1, max_length=40)]
    name: Annotated[str, Field(min_length=1, max_length=80)]
    scale_bass_mm: ScaleMm
    scale_treble_mm: ScaleMm
    fret_count: Annotated[int, Field(ge=12, le=36)]
    joint_fret: Annotated[int, Field(ge=5, le=36)]
    radius_nut_mm: RadiusMm | None = None
    radius_end_mm: RadiusMm | None = None
    strings: Annotated[tuple[StringSpec, ...], Field(min_length=3, max_length=12)]
    spacing_nut_mm: Annotated[float, Field(ge=15, le=120)]
    spacing_bridge_mm: Annotated[float, Field(ge=20, le=180)]
    a4_hz: Annotated[float, Field(ge=390, le=470)] = 440.0
    headless: bool = False
    left_handed: bool = False
    rod: RodSpec
    bridge: BridgeSpec
    pickups: Annotated[tuple[PickupSpec, ...], Field(max_length=4)] = ()
    touch: Touch = Touch.MEDIUM
    own_swing: OwnSwing | None = None
    typed: dict[str, str] = {}
    assumed: bool = False

    @model_validator(mode="after")
    def _parts_agree(self) -> Self:
        if self.joint_fret > self.fret_count:
            raise ValueError(
                f"the neck cannot meet the body at fret {self.joint_fret}: there are {self.fret_count} frets"
            )
        if (self.radius_nut_mm is None) != (self.radius_end_mm is None):
            raise ValueError("give the board’s radius at both ends, or at neither for a flat board")
        if abs(self.scale_bass_mm - self.scale_treble_mm) > 150:
            raise ValueError("the bass and treble sides' scale lengths differ by more than 150 mm")
        return self

    def nameless_json(self) -> str:
        """The description without its name and its typed words: what instruments alike have in common. It
        reads back as a description."""
        return self.model_copy(update={"name": "-", "typed": {}}).model_dump_json()

    @property
    def string_count(self) -> int:
        """How many strings there are."""
        return len(self.strings)

    @property
    def fittings(self) -> frozenset[Fitting]:
        """What this instrument has of all that an instrument may lack."""
        bridge = self.bridge
        screwed = bridge.type is not BridgeType.ONE_PIECE
        own_heights = bridge.type is BridgeType.INDIVIDUAL and bridge.height_thread != NO_SCREW
        has = {
            Fitting.ROD: self.rod.type is not RodType.NONE,
            Fitting.PICKUPS: bool(self.pickups),
            Fitting.HEIGHT_SCREWS: own_heights,
            Fitting.INTONATION_SCREWS: screwed and bridge.intonation_thread != NO_SCREW,
            Fitting.POSTS: bridge.type in (BridgeType.TWO_POST, BridgeType.FLOATING),
            Fitting.SPRINGS: bridge.type is BridgeType.FLOATING,
        }
        return frozenset(fitting for fitting, there in has.items() if there)

    @property
    def rod_nut_end(self) -> str:
        """Where the rod's nut is reached, in words: 'headstock', 'nut end' or 'body end'."""
        return rod_nut_end(self.rod.nut_at, self.headless)

    @property
    def is_multiscale(self) -> bool:
        """Whether the frets are fanned."""
        return self.scale_bass_mm != self.scale_treble_mm

    def index_of(self, number: int) -> int:
        """The place of string `number` (1 = thinnest) in `strings` (bass side first). Raises IndexError."""
        if not 1 <= number <= self.string_count:
            raise IndexError(f"there is no string {number}: this instrument has {self.string_count}")
        return self.string_count - number

    def string(self, number: int) -> StringSpec:
        """The string with this number, 1 = thinnest. Raises IndexError."""
        return self.strings[self.index_of(number)]

    def across(self, number: int) -> float:
        """Where string `number` lies between the outer two: 0 = bass string, 1 = treble string."""
        return self.index_of(number) / (self.string_count - 1)

    def scale_of(self, number: int) -> float:
        """The scale length of string `number` in mm: between the two sides' lengths on fanned frets."""
        return self.scale_bass_mm + (self.scale_treble_mm - self.scale_bass_mm) * self.across(number)


class Thread(TradeModel):
    """One thread: how far a full turn moves the screw, and the standard that says so."""

    key: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9.\-]*$", max_length=20)]
    name: str
    pitch_mm: Annotated[float, Field(gt=0, le=3)]
    standard: str


class Kind(TradeModel):
    """What choosing this kind fills in. `place` orders the kinds on the page."""

    key: Key
    name: str
    family: Family
    place: int
    summary: Annotated[str, Field(min_length=1, max_length=160)]
    spec: InstrumentSpec

    @model_validator(mode="after")
    def _spec_is_of_this_kind(self) -> Self:
        if self.spec.kind != self.key:
            raise ValueError(f"the spec says kind {self.spec.kind}, the file is {self.key}")
        return self

    def thread_keys(self) -> set[str]:
        """Every thread the starting values name, without the two words for none and unknown."""
        bridge = self.spec.bridge
        named = {bridge.height_thread, bridge.intonation_thread, *(p.thread for p in self.spec.pickups)}
        return named - {UNKNOWN, NO_SCREW}
