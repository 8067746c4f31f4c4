"""The fields of the instrument form: what each is called, how it is likely typed, what may be chosen."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from webapp.physics.lengths import Unit
from webapp.trade.content import Trade
from webapp.trade.ranges import Band
from webapp.trade.spec import NO_SCREW, UNKNOWN
from webapp.trade.words import Family, PickupType, Touch, Word, label

STRINGS_AT_LEAST, STRINGS_AT_MOST = 3, 12
PICKUPS_AT_MOST = 4
NO_PICKUP = "none"
LONGEST_NAME = 80
OWN_TOUCH = "own"
BASSES = (Family.BASS, Family.BASS_SHORT)


class Board(StrEnum):
    """The shape of the fretboard across the strings."""

    FLAT = "flat"
    SINGLE = "single"
    COMPOUND = "compound"


@dataclass(frozen=True)
class LengthField:
    """One length: outside `likely` another unit is asked about, outside `widest` it is refused."""

    label: str
    unit: Unit
    likely: Band
    widest: Band
    hint: str = ""


SCALE = LengthField(
    "Scale length", Unit.inch, Band(low=500, high=1000), Band(low=300, high=1200),
    "Nut to saddle: twice the way from the nut to fret 12. With fanned frets, on the bass side.",
)  # fmt: skip
LENGTHS: dict[str, LengthField] = {
    "scale": SCALE,
    "scale_treble": LengthField(
        "Scale length, treble side", Unit.inch, SCALE.likely, SCALE.widest,
        "Only with fanned frets. Leave empty for one scale.",
    ),
    "radius_nut": LengthField(
        "Radius", Unit.inch, Band(low=150, high=650), Band(low=100, high=2000),
        "On a compound board, at the nut.",
    ),
    "radius_end": LengthField(
        "Radius at the end of the board", Unit.inch, Band(low=150, high=650), Band(low=100, high=2000),
        "Only on a compound board.",
    ),
    "spacing_nut": LengthField(
        "Spacing at the nut", Unit.mm, Band(low=25, high=80), Band(low=15, high=120),
        "From the outer string on one side to the outer string on the other, middle to middle.",
    ),
    "spacing_bridge": LengthField(
        "Spacing at the bridge", Unit.mm, Band(low=35, high=130), Band(low=20, high=180)
    ),
    "post_spacing": LengthField(
        "Distance between the posts", Unit.mm, Band(low=40, high=120), Band(low=20, high=200),
        "Only where the bridge sits on two posts. Leave empty if you do not know.",
    ),
    "level": LengthField(
        "Gap under a floating bridge’s rear edge", Unit.mm, Band(low=0, high=12), Band(low=0, high=20),
        "From the body to its plate, where the maker wants it. Leave empty for parallel to the body.",
    ),
}  # fmt: skip
_GAUGES = {
    True: LengthField("Gauge", Unit.inch, Band(low=0.5, high=3.5), Band(low=0.1, high=5)),
    False: LengthField("Gauge", Unit.inch, Band(low=0.2, high=2.2), Band(low=0.1, high=5)),
}


def gauge_field(family: Family) -> LengthField:
    """How string gauges are likely to be typed for this family."""
    return _GAUGES[family in BASSES]


Options = tuple[tuple[str, str], ...]
HintedOptions = tuple[tuple[str, str, str], ...]

_TOUCH_HINTS = {
    Touch.LIGHT: "soft fingertips or a thin pick; strings can lie low",
    Touch.MEDIUM: "most players",
    Touch.FIRM: "digging in, slapping, a heavy pick; strings need room",
}
TOUCHES: HintedOptions = tuple((t.value, label(t).capitalize(), _TOUCH_HINTS[t]) for t in Touch)
OWN_TOUCH_OPTION = (OWN_TOUCH, "Your own", "as found by test")
BOARDS: Options = (
    (Board.FLAT.value, "Flat"),
    (Board.SINGLE.value, "One radius"),
    (Board.COMPOUND.value, "Compound: flatter towards the end"),
)
WOUND: Options = (("wound", "wound"), ("plain", "plain"))


def options(words: type[Word]) -> Options:
    """Every word of a list, as a player reads it."""
    return tuple((word.value, _capital(label(word))) for word in words)


def thread_options(trade: Trade) -> Options:
    """Not known, no screw, and every thread with how far one turn goes."""
    known = ((key, f"{one.name}, {one.pitch_mm:.3g} mm a turn") for key, one in trade.threads.items())
    return ((UNKNOWN, "Not known"), (NO_SCREW, "No such screw"), *known)


def pickup_types(trade: Trade, family: Family) -> tuple[PickupType, ...]:
    """The pickups this family's bands speak of; empty for a family set up without any."""
    known = trade.ranges.families[family].pickups
    return tuple(type_ for type_ in PickupType if type_ in known)


def pickup_options(types: tuple[PickupType, ...]) -> Options:
    """The types of pickup, and that there is none."""
    return ((NO_PICKUP, "None"), *((type_.value, _capital(label(type_))) for type_ in types))


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
