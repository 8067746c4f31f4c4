"""Which way and how far: the picture of one turn, for every part that a player turns."""

from __future__ import annotations

from dataclasses import dataclass

from webapp.drawings.shapes import WIDTH, Drawing, Plain, Text, bottom_of
from webapp.drawings.turning.bridge_parts import claw_plan, posts_plan, saddle_ends, saddle_plan, saddle_side
from webapp.drawings.turning.dial import Turning
from webapp.drawings.turning.pickup_end import PickupEnd
from webapp.drawings.turning.rod_turn import rod_drawing
from webapp.drawings.units import MM, Units
from webapp.setups.geometry import FILED_MM
from webapp.setups.journal import Part, Turn
from webapp.setups.say import Say
from webapp.setups.slots import pickup_label, string_label
from webapp.setups.turn_rotation import rotation_of
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import BridgeType, Rotation, ScrewHeads, Side

# The dials' column beside a plan, and beside a section: its middle and its width.
BESIDE_PLAN, BESIDE_SECTION = (272.0, 172.0), (288.0, 144.0)
SECTION_RIGHT = 214.0
TOP = 6.0
# Where nobody knows how far a turn takes something, so many mm are drawn, and no scale.
UNKNOWN_MM, UNKNOWN_GAP_MM = 3.0, 4.0
# A cut from a saddle is drawn so many times as deep as it is.
CUT_SCALE = 4.0


def turn_drawing(
    spec: InstrumentSpec,
    turn: Turn,
    *,
    now: float | None = None,
    after: float | None = None,
    travel_mm: float | None = None,
    units: Units = MM,
) -> Drawing:
    """The picture of one advised turn of signed eighths.

    `now` and `after` are what the place reads in mm (relief, pickup's gap), `travel_mm` how far the screw
    takes its saddle or post, without a sign; each only where known.

    Raises ValueError for a part that no screw moves, and for a turn of no eighths.
    """
    one = _Turned(spec, turn, rotation_of(spec, turn), now, after, travel_mm, units)
    if turn.part is Part.ROD:
        return rod_drawing(spec, turn.eighths, now=now, after=after, units=units)
    if turn.part is Part.SADDLE_POSITION:
        return _position(one)
    if turn.part is Part.PICKUP_HEIGHT:
        return _pickup(one)
    if turn.part is Part.SPRINGS:
        return _springs(one)
    return _post(one) if turn.string is None else _saddle(one)


@dataclass(frozen=True)
class _Turned:
    """A turn with all that its picture says."""

    spec: InstrumentSpec
    turn: Turn
    way: Rotation
    now: float | None
    after: float | None
    travel_mm: float | None
    units: Units

    @property
    def is_plus(self) -> bool:
        return self.turn.eighths > 0

    @property
    def how(self) -> str:
        """'half a turn clockwise'."""
        return f"{Say.turns(self.turn.eighths)} {self.way.value}"

    @property
    def up_or_down(self) -> str:
        return "up" if self.is_plus else "down"

    def moved(self, words: str) -> str:
        """'up 0.50 mm', where the travel is known; else nothing."""
        return f"{words} {self.units.full(abs(self.travel_mm))}" if self.travel_mm else ""


def _beside_plan(
    one: _Turned, plan: tuple[list[Plain], float], alike: bool, lines: tuple[str, ...], title: str, says: str
) -> Drawing:
    """A plan to the left, the dials and their words to the right."""
    shapes, foot = plan
    middle, width = BESIDE_PLAN
    column, bottom = Turning(one.way, one.turn.eighths, alike=alike).column(middle, TOP, width)
    texts = [Text(middle, bottom + 14 + 17 * i, line) for i, line in enumerate(filter(None, lines))]
    height = max(foot + TOP, bottom_of([*column, *texts]) + 2)
    return Drawing(WIDTH, height, (*shapes, *column, *texts), title, says)


def _saddle(one: _Turned) -> Drawing:
    number = one.turn.string
    assert number is not None
    name = string_label(one.spec, number)
    verb = "Raise" if one.is_plus else "Lower"
    title = f"{verb} the saddle of the {name}: both its screws {one.how}, seen from above"
    says = f"The bridge from above, the nut to the left. {title}, both alike.{_so(one.moved(one.up_or_down))}"
    plan = saddle_plan(one.spec, number, TOP)
    lines = (one.way.value, "seen from above", one.moved(one.up_or_down))
    return _beside_plan(one, plan, True, lines, title, says)


def _so(words: str) -> str:
    return f" That is {words}." if words else ""


def _post(one: _Turned) -> Drawing:
    side = one.turn.side
    sides = frozenset(Side) if side is None else frozenset({side})
    verb = "Raise" if one.is_plus else "Lower"
    what = "both posts" if side is None else f"the {side.value}-side post"
    title = f"{verb} {what} {one.how}, seen from above"
    alike = ", both alike" if side is None else ""
    says = f"The bridge on its two posts from above, the nut to the left. {title}{alike}."
    floats = one.spec.bridge.type is BridgeType.FLOATING
    plan = posts_plan(one.spec, sides, TOP, floats)
    lines = (one.way.value, "seen from above", one.moved(one.up_or_down))
    return _beside_plan(one, plan, side is None, lines, title, says + _so(one.moved(one.up_or_down)))


def _springs(one: _Turned) -> Drawing:
    verb, edge = ("Tighten", "down") if one.is_plus else ("Loosen", "up")
    title = f"{verb} both claw screws {one.how}, looking straight at their heads"
    says = f"The springs in the back. {title}, both alike. The bridge’s rear edge goes {edge}."
    lines = (one.way.value, "seen head-on", f"rear edge {edge}")
    return _beside_plan(one, claw_plan(TOP + 20), True, lines, title, says)


def _beside_section(
    one: _Turned,
    section: tuple[list[Plain], float],
    seen: str,
    words: tuple[Plain, ...],
    title: str,
    says: str,
) -> Drawing:
    """A section to the left, the dial to the right, and from where it is seen below both."""
    shapes, foot = section
    column, bottom = Turning(one.way, one.turn.eighths).column(BESIDE_SECTION[0], TOP, BESIDE_SECTION[1])
    low = max(foot, bottom, bottom_of(words)) + 16
    caption = Text(WIDTH / 2, low, f"{one.way.value}, {seen}")
    return Drawing(WIDTH, low + 5, (*shapes, *column, *words, caption), title, says)


def _position(one: _Turned) -> Drawing:
    number = one.turn.string
    assert number is not None
    behind = one.spec.bridge.intonation_heads is ScrewHeads.BEHIND
    seen = "from behind the bridge" if behind else "from the neck’s side"
    way = "back" if one.is_plus else "toward the nut"
    far = one.units.full(abs(one.travel_mm)) if one.travel_mm else ""
    travel = abs(one.travel_mm or UNKNOWN_MM) * (1 if one.is_plus else -1)
    section = saddle_side(one.spec, number, travel, SECTION_RIGHT, scaled=one.travel_mm is not None)
    words = (
        *((Text(4, 16, far, "do", "start"),) if far else ()),
        Text(4, 34, way, "strong", "start"),
    )
    name = string_label(one.spec, number)
    title = f"Move the saddle of the {name} {way}: {one.how}, seen {seen}"
    says = f"The saddle from the side, the nut to the left. {title}."
    says += f" The saddle goes {far} {way}." if far else ""
    return _beside_section(one, section, seen, words, title, says)


def _pickup(one: _Turned) -> Drawing:
    turn, units = one.turn, one.units
    assert turn.pickup is not None
    side = turn.side or Side.BASS
    step = UNKNOWN_MM / 2 * (-1 if one.is_plus else 1)
    now = one.now if one.now is not None else (one.after or UNKNOWN_GAP_MM) - step
    after = one.after if one.after is not None else now + step
    end = PickupEnd(one.spec, turn.pickup, side, now, after, 4, SECTION_RIGHT, 2)
    shapes, foot = end.shapes()
    verb = "Raise" if one.is_plus else "Lower"
    name = f"{pickup_label(one.spec, turn.pickup).lower()}, {side.value} side"
    title = f"{verb} the {name}: {one.how}, seen from above"
    says = f"The pickup seen from the bridge. {title}."
    words: tuple[Plain, ...] = ()
    if one.now is not None and one.after is not None:
        label = f" {units.label}"
        gap = f"gap {units.full(now).removesuffix(label)}, then {units.full(after)}"
        words = (Text((4 + SECTION_RIGHT) / 2, foot + 17, gap),)
        says += f" The gap is {units.full(now)} now, about {units.full(after)} after."
    return _beside_section(one, (shapes, foot), "seen from above", words, title, says)


def saddle_work_drawing(
    spec: InstrumentSpec, bass_mm: float, treble_mm: float, *, units: Units = MM
) -> Drawing:
    """What a one-piece saddle should lose (plus) or gain (minus) under its ends, mm: work for a repairer."""
    shapes, foot = saddle_ends(spec, bass_mm, treble_mm, 26, CUT_SCALE)
    ends = ((bass_mm, Side.BASS, 4.0, "start"), (treble_mm, Side.TREBLE, WIDTH - 4, "end"))
    told = []
    for far, side, x, anchor in ends:
        words = (
            f"{units.full(abs(far))} {'off' if far > 0 else 'more'}" if abs(far) >= FILED_MM else "as it is"
        )
        shapes += [
            Text(x, 16, f"{side.value} side", "caption", anchor),
            Text(x, foot + 20, words, "do", anchor),
        ]
        told.append(f"{words} at the {side.value} end")
    title = f"The saddle for the repairer: {', '.join(told)}"
    says = f"The one-piece saddle seen from the bridge. {title}, at its underside."
    note = f"The cut is drawn {CUT_SCALE:g} times as deep as it is."
    return Drawing(WIDTH, foot + 26, tuple(shapes), title, says, note=note)
