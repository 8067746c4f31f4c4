"""The fields of the instrument form: what each is called, how it is read, what may be chosen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from enum import StrEnum

from webapp.pages.visit.forms import (
    ChoiceField,
    Field,
    FormReader,
    LengthField,
    NumberField,
    Options,
    TextField,
    TickField,
    WholeField,
    table,
)
from webapp.physics.numbers import Unit, say_number
from webapp.setups.say import capital
from webapp.trade.content import Trade
from webapp.trade.ranges import Band
from webapp.trade.spec import NO_SCREW, UNKNOWN
from webapp.trade.words import (
    BridgeType,
    Family,
    PickupAdjust,
    PickupPosition,
    PickupType,
    RodAccess,
    RodNut,
    RodType,
    Rotation,
    ScrewHeads,
    Touch,
    Word,
    label,
    rod_nut_end,
)

STRINGS_AT_LEAST, STRINGS_AT_MOST = 3, 12
FRETS_AT_LEAST, FRETS_AT_MOST = 12, 36
JOINT_AT_LEAST = 5
A4_AT_LEAST, A4_AT_MOST = 390, 470
PICKUPS_AT_MOST = 4
NO_PICKUP = "none"
LONGEST_NAME = 80
OWN_TOUCH = "own"
BASSES = (Family.BASS, Family.BASS_SHORT)


class BoardShape(StrEnum):
    """The shape of the fretboard across the strings."""

    FLAT = "flat"
    SINGLE = "single"
    COMPOUND = "compound"


HintedOptions = tuple[tuple[str, str, str], ...]
_TOUCH_HINTS = {
    Touch.LIGHT: "soft fingers, a thin pick",
    Touch.MEDIUM: "most players",
    Touch.FIRM: "digging in, slapping, a heavy pick",
}
TOUCHES: HintedOptions = tuple((t.value, capital(label(t)), _TOUCH_HINTS[t]) for t in Touch)
OWN_TOUCH_OPTION = (OWN_TOUCH, "Your own", "as found by test")
BOARDS: Options = (
    (BoardShape.FLAT.value, "Flat"),
    (BoardShape.SINGLE.value, "One radius"),
    (BoardShape.COMPOUND.value, "Compound: flatter towards the end"),
)
WOUND: Options = (("wound", "wound"), ("plain", "plain"))
A_THREAD = "a thread, or “Not known”"


def options(words: type[Word]) -> Options:
    """Every word of a list, as a player reads it."""
    return tuple((word.value, capital(label(word))) for word in words)


def _board(*shapes: BoardShape) -> Callable[[FormReader], bool]:
    return lambda form: form.raw("board") in shapes


def _bridge(*types: BridgeType) -> Callable[[FormReader], bool]:
    return lambda form: form.raw("bridge_type") in types


NAME = TextField(
    "name", "name", "Name", "What you call it.",
    longest=LONGEST_NAME, required="Give it a name, so that you know it on the bench.",
)  # fmt: skip
LEFT_HANDED = TickField("left_handed", "left_handed", "It is left-handed")
TOUCH = ChoiceField("touch", "touch", "How hard do you play?", what="how hard you play", open=True)
# Section by section what is read and shown in one way. Strings, pickups and the touch have ways of their own.
SECTIONS: dict[str, tuple[Field, ...]] = {
    "neck": (
        LengthField(
            "scale", "scale_bass_mm", "Scale length",
            "Nut to saddle: twice the way from the nut to fret 12. With fanned frets, on the bass side.",
            unit=Unit.inch, likely=Band(low=500, high=1000), widest=Band(low=300, high=1200),
        ),
        LengthField(
            "scale_treble", "scale_treble_mm", "Scale length, treble side",
            "Only with fanned frets. Leave empty for one scale.",
            unit=Unit.inch, likely=Band(low=500, high=1000), widest=Band(low=300, high=1200), required=False,
        ),
        WholeField(
            "frets", "fret_count", "Number of frets",
            low=FRETS_AT_LEAST, high=FRETS_AT_MOST, what="Number of frets",
        ),
        WholeField(
            "joint", "joint_fret", "Neck meets the body at fret",
            low=JOINT_AT_LEAST, high=FRETS_AT_MOST, what="The fret where neck and body meet",
        ),
        ChoiceField("board", "", "Fretboard", what="the shape of the board", options=BOARDS, open=True),
        LengthField(
            "radius_nut", "radius_nut_mm", "Radius", "On a compound board, at the nut.",
            _board(BoardShape.SINGLE, BoardShape.COMPOUND),
            unit=Unit.inch, likely=Band(low=150, high=650), widest=Band(low=100, high=2000),
        ),
        LengthField(
            "radius_end", "radius_end_mm", "Radius at the end of the board", "Only on a compound board.",
            _board(BoardShape.COMPOUND),
            unit=Unit.inch, likely=Band(low=150, high=650), widest=Band(low=100, high=2000),
        ),
        TickField("headless", "headless", "It has no headstock", "Headless: it is tuned at the bridge."),
    ),
    "strings": (
        LengthField(
            "spacing_nut", "spacing_nut_mm", "Spacing at the nut",
            "From the outer string on one side to the outer string on the other, middle to middle.",
            unit=Unit.mm, likely=Band(low=25, high=80), widest=Band(low=15, high=120),
        ),
        LengthField(
            "spacing_bridge", "spacing_bridge_mm", "Spacing at the bridge",
            unit=Unit.mm, likely=Band(low=35, high=130), widest=Band(low=20, high=180),
        ),
        NumberField(
            "a4", "a4_hz", "Reference pitch", "The A that your tuner is set to.",
            low=A4_AT_LEAST, high=A4_AT_MOST, suffix="Hz",
            sentence=f"Reference pitch: from {A4_AT_LEAST} to {A4_AT_MOST} Hz; 440 is usual.",
        ),
    ),
    "rod": (
        ChoiceField(
            "rod_type", "rod.type", "Truss rod",
            "A two-way rod can bend the neck either way; a one-way rod only against the strings.",
            what="the kind of truss rod", options=options(RodType),
        ),
        ChoiceField(
            "rod_nut", "rod.nut_at", "Where its nut is",
            what="where the rod’s nut is", options=options(RodNut),
        ),
        ChoiceField(
            "rod_access", "rod.access", "To reach it",
            what="what is in the way of the rod’s nut", options=options(RodAccess),
        ),
        ChoiceField(
            "rod_tightens", "rod.tightens", "It tightens",
            "Seen looking straight at the rod’s nut. Tighter makes the neck straighter.",
            what="which way the rod tightens", options=options(Rotation),
        ),
        TextField(
            "rod_key", "rod.key_size", "Key", "Such as 4 mm hex. Leave empty if you do not know.", longest=40
        ),
    ),
    "bridge": (
        ChoiceField(
            "bridge_type", "bridge.type", "Bridge", what="the kind of bridge", options=options(BridgeType)
        ),
        ChoiceField(
            "height_thread", "bridge.height_thread", "Thread of the height screws",
            "If it is not known, two readings will show it.", what=A_THREAD,
        ),
        ChoiceField(
            "intonation_thread", "bridge.intonation_thread", "Thread of the intonation screws", what=A_THREAD
        ),
        ChoiceField(
            "intonation_heads", "bridge.intonation_heads",
            "On which side of the saddle are the intonation screws’ heads?",
            "Only where there are such screws: clockwise and anticlockwise hang on it.",
            what="the side on which the screws' heads are", options=options(ScrewHeads),
        ),
        LengthField(
            "post_spacing", "bridge.post_spacing_mm", "Distance between the posts",
            "Only where the bridge sits on two posts. Leave empty if you do not know.",
            _bridge(BridgeType.TWO_POST, BridgeType.FLOATING),
            unit=Unit.mm, likely=Band(low=40, high=120), widest=Band(low=20, high=200), required=False,
        ),
        LengthField(
            "level", "bridge.level_mm", "Gap under a floating bridge’s rear edge",
            "From the body to its plate, where the maker wants it. Leave empty for parallel to the body.",
            _bridge(BridgeType.FLOATING),
            unit=Unit.mm, likely=Band(low=0, high=12), widest=Band(low=0, high=20), required=False,
        ),
    ),
}  # fmt: skip
PLAIN_FIELDS = table(NAME, LEFT_HANDED, *(field for section in SECTIONS.values() for field in section))


def pickup_fields(number: int) -> tuple[Field, ...]:
    """The fields of one pickup; what they describe is a part of it."""
    row, what = f"pickup_{number}", f"pickup {number}"
    return (
        ChoiceField(f"{row}_type", "type", "Type", what=f"what {what} is, or “None”"),
        ChoiceField(
            f"{row}_position", "position", "Position",
            what=f"where {what} sits", options=options(PickupPosition),
        ),
        ChoiceField(
            f"{row}_adjust", "adjust", "Height screws",
            what=f"how {what} is raised and lowered", options=options(PickupAdjust),
        ),
        ChoiceField(f"{row}_thread", "thread", "Their thread", what=A_THREAD),
    )  # fmt: skip


FIELDS = table(
    TOUCH, *PLAIN_FIELDS.values(), *(f for n in range(1, PICKUPS_AT_MOST + 1) for f in pickup_fields(n))
)


# All that a new instrument is asked for.
KIND = ChoiceField("kind", "kind", "Which kind is it? The nearest will do.", what="the nearest kind")
NEW_FIELDS = table(
    KIND, replace(NAME, hint="What you call it. Left empty, it is called by its kind.", required=""),
    TOUCH, LEFT_HANDED,
)  # fmt: skip


def new_options(field: Field, trade: Trade) -> Options | HintedOptions:
    """What may be chosen in a field of a new instrument."""
    if field.name == KIND.name:
        return tuple((key, kind.name) for key, kind in trade.kinds.items())
    return TOUCHES if field.name == TOUCH.name else ()


def offered(field: Field, trade: Trade, family: Family, headless: bool = False) -> Options:
    """What may be chosen in a field of this form."""
    if field.name.endswith("_thread"):
        return thread_options(trade)
    if field.name.startswith("pickup_") and field.part == "type":
        return pickup_options(pickup_types(trade, family))
    if field.name == "rod_nut":
        return tuple((nut.value, f"At the {rod_nut_end(nut, headless)}") for nut in RodNut)
    return field.options if isinstance(field, ChoiceField) else ()


def gauge_field(place: str, unit: Unit, family: Family) -> LengthField:
    """The gauge of the string in one place of the form, as this family's are likely to be."""
    likely = Band(low=0.5, high=3.5) if family in BASSES else Band(low=0.2, high=2.2)
    return LengthField(
        f"gauge_{place}", "gauge_mm", f"String {place}, gauge",
        unit=unit, likely=likely, widest=Band(low=0.1, high=5),
    )  # fmt: skip


def thread_options(trade: Trade) -> Options:
    """Not known, no screw, and every thread with how far one turn goes."""
    known = (
        (key, f"{one.name}, {say_number(round(one.pitch_mm, 3))} mm a turn")
        for key, one in trade.threads.items()
    )
    return ((UNKNOWN, "Not known"), (NO_SCREW, "No such screw"), *known)


def pickup_types(trade: Trade, family: Family) -> tuple[PickupType, ...]:
    """The pickups this family's bands speak of; empty for a family set up without any."""
    known = trade.ranges.families[family].pickups
    return tuple(type_ for type_ in PickupType if type_ in known)


def pickup_options(types: tuple[PickupType, ...]) -> Options:
    """The types of pickup, and that there is none."""
    return ((NO_PICKUP, "None"), *((type_.value, capital(label(type_))) for type_ in types))
