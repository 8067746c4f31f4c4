"""How a reading is taken: where to hold, press and slide, seen from the front, and the gap itself magnified.

One drawing for each place and method, all of it from this instrument's own description. The gap follows what
was read or typed; before anything was, it stands at the middle of the target.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cached_property, lru_cache
from itertools import pairwise

from webapp.drawings.reading import neck_front as front
from webapp.drawings.reading.answers import tuner_face
from webapp.drawings.reading.magnifier import CARDS, EAR, GAUGE, RULER, Magnifier, Seen, magnify, seen_through
from webapp.drawings.reading.neck_front import NeckFront, front_view
from webapp.drawings.reading.side import (
    HEAD_MM,
    Along,
    LevelString,
    Lines,
    lines_for,
    strip_bottom,
    true_strip,
    under_chord,
    under_string,
)
from webapp.drawings.shapes import (
    WIDTH,
    Circle,
    Drawing,
    Line,
    Plain,
    Text,
    disc,
    kind_width,
    leader,
    place_row,
)
from webapp.drawings.units import MM, Units, long_length
from webapp.physics.neck import Neck
from webapp.setups.geometry import neck_under
from webapp.setups.slots import Slot, pickup_label, string_label, string_numbers
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Side, label

NUT_MM = 0.5  # how high an open string is drawn at the nut, over the line of the frets
TOP = 32.0
TALLEST = 40.0
GLASS = 48.0
DISC = 10.0
NEAR_HEAD = 140.0  # a place nearer to the head than this has its glass at the head's end
CENTS_RADIUS = 50.0
BESIDE = 20.0  # from the middle of a hand or a tool to words beside it
SLIDES = {"card": "slide", "feeler": "slide", "ear": "tap"}
Band = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Reading:
    """One reading: the place, the method's key and the frets it is taken by, as its check names them.

    `target` is the band at this place, read this way, in mm; `value_mm` and `value_cents` what was read or
    typed. `together` is a page for several strings; `marks_mm` what a rule steps by; without a `capo`
    a finger holds.
    """

    spec: InstrumentSpec
    slot: Slot
    method: str
    way: Mapping[str, int]
    target: Band = (0.0, 0.0)
    curvature_per_mm: float = 0.0
    value_mm: float | None = None
    value_cents: float | None = None
    card_mm: float = 0.3
    marks_mm: float = 0.5
    together: bool = False
    capo: bool = True
    units: Units = MM

    @cached_property
    def _drawn_by(self) -> tuple[Hashable, ...]:
        """All that the drawing follows from: no name is in it."""
        rest = (getattr(self, one.name) for one in fields(self) if one.name not in ("spec", "way"))
        return self.spec.nameless_json(), *sorted(self.way.items()), *rest

    def __hash__(self) -> int:
        return hash(self._drawn_by)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Reading) and self._drawn_by == other._drawn_by

    @property
    def number(self) -> int:
        """The string in question; the thickest where the place is no one string's."""
        if self.slot.string is not None:
            return self.slot.string
        return 1 if self.slot.side is Side.TREBLE else self.spec.string_count

    @property
    def asked(self) -> tuple[int, ...]:
        return string_numbers(self.spec) if self.together else (self.number,)

    @property
    def name(self) -> str:
        return "each string" if self.together else string_label(self.spec, self.number)

    @property
    def gap_mm(self) -> float:
        """The gap that is drawn."""
        return sum(self.target) / 2 if self.value_mm is None else self.value_mm

    @property
    def over(self) -> int:
        """The fret over which the gap is read; 0 where it is a pickup's."""
        return self.way.get("gap", 0 if self.of_pickup else 1)

    @property
    def of_pickup(self) -> bool:
        return self.slot.pickup is not None

    @property
    def of_bow(self) -> bool:
        """Whether the string lies on two frets, so that the gap is the neck's own bow."""
        return "press" in self.way

    @property
    def hold(self) -> int:
        return self.way.get("hold", 0)

    @property
    def press(self) -> int:
        """The fret that is pressed; 0 where none is."""
        if self.of_pickup:
            return self.spec.fret_count
        return self.way.get("press", self.way.get("fret", 0))

    @cached_property
    def neck(self) -> Neck:
        """The neck under the string; for a relief reading with the bow that it reads."""
        if not self.of_bow:
            return neck_under(self.spec, self.number, self.curvature_per_mm)
        return self._bowed(self.gap_mm)

    def _bowed(self, relief_mm: float) -> Neck:
        spec = self.spec
        scale = spec.scale_of(self.number)
        try:
            return Neck.from_relief(
                scale, spec.joint_fret, spec.fret_count, relief_mm, self.hold, self.press, self.over
            )
        except ValueError:  # held past the joint, where nothing bends
            return Neck(scale, spec.joint_fret, spec.fret_count)

    def level(self, gap_mm: float) -> LevelString:
        """The frets under the string with this gap."""
        if self.of_bow:
            return under_chord(self._bowed(gap_mm), self.hold, self.press)
        nut = 0.0 if self.hold else NUT_MM
        return under_string(
            self.neck, self.neck.saddle_for_action(gap_mm, self.hold, self.over, nut), self.hold, nut
        )


# The same for all of a class who are at the same place.
@lru_cache(maxsize=64)
def reading_drawing(reading: Reading) -> Drawing:
    """Where the hands go, the gap magnified; where its shape matters the neck's side, true and as lines."""
    view = _view(reading)
    steps = _steps(reading, view)
    shapes, height, factor = (_tuned if reading.slot.is_cents else _magnified)(reading, view)
    shapes = [*_hands(reading, view), *shapes, *_step_row(steps, view), *_string_name(reading, view)]
    title, said = _words(reading)
    if factor:
        said.append(f"The neck is drawn true, its lines alone with heights {factor} times as large.")
    return Drawing(WIDTH, height, tuple(shapes), title, " ".join(said))


def _view(reading: Reading) -> NeckFront:
    """As much of the instrument as the hands need."""
    spec, slot = reading.spec, reading.slot
    scale = spec.scale_bass_mm
    whole = NeckFront(spec, 0, 1, 0, 1, 0)
    start, stop = -front.HEAD_MM, scale + 14
    if reading.of_pickup:
        start = min(whole.fret_mm(spec.fret_count - 6), stop - WIDTH * 2 * whole.half_mm(scale) / TALLEST)
    elif slot.over_neck:
        last = max(reading.press, reading.over, 12)
        stop = (whole.end_mm if last >= spec.fret_count else whole.fret_mm(last)) + 24
    elif not slot.is_cents:
        stop = whole.fret_mm(12)
    return front_view(spec, start, stop, TOP, tallest=TALLEST)


def _place_mm(reading: Reading, view: NeckFront) -> float:
    """Where the gap is, from the nut."""
    if reading.slot.pickup is not None:
        return front.pickup_mm(reading.spec, reading.slot.pickup)
    return view.fret_mm(reading.over, reading.number)


Step = tuple[float, str]


def _steps(reading: Reading, view: NeckFront) -> list[Step]:
    """What the hands do and where: places on the paper and words, in the order of the hand."""
    at = view.fret_x
    if reading.slot.is_cents:
        spec, fret = reading.spec, reading.press
        pluck = view.x((view.end_mm + spec.scale_bass_mm) / 2)
        frets = sorted({12, fret}) if reading.together else [fret]
        steps = [(view.x(0), "tune open"), *((at(f, reading.number), f"press {f}") for f in frets)]
        return steps if len(frets) > 1 else [*steps, (pluck, "pluck")]
    read = SLIDES.get(reading.method, "read")
    here = view.x(_place_mm(reading, view))
    if reading.of_pickup:
        return [(at(reading.press), f"press {reading.press}"), (here, "read here")]
    steps = [(at(reading.hold), f"hold {reading.hold}" if reading.hold else "open")]
    steps.append((here, f"{read} {reading.over}"))
    return [*steps, (at(reading.press), f"press {reading.press}")] if reading.press else steps


def _step_row(steps: Sequence[Step], view: NeckFront) -> list[Plain]:
    """The numbered steps in a row over the neck, each with a leader to its place."""
    rising = sorted(enumerate(steps, start=1), key=lambda step: step[1][0])
    widths = [kind_width(words, "strong") + 2 * DISC + 4 for _, (_, words) in rising]
    places = place_row([x for _, (x, _) in rising], widths, 1, WIDTH - 1, 7)
    shapes: list[Plain] = []
    for (number, (x, words)), width, place in zip(rising, widths, places, strict=True):
        left = place - width / 2 + DISC
        shapes += [*disc(number, left, 11), Text(left + DISC + 4, 16, words, "strong", "start")]
        shapes.append(
            leader((min(max(x, place - width / 2 + 4), place + width / 2 - 4), 23), (x, view.top - 2))
        )
    return shapes


def _hands(reading: Reading, view: NeckFront) -> list[Plain]:
    """The neck with its strings, and what holds, presses and is slid in."""
    shapes = front.board(view)
    if view.to_mm > reading.spec.scale_bass_mm:
        shapes += front.bridge_and_pickups(view, reading.slot.pickup)
    number = reading.number
    if reading.slot.is_cents:
        fret = 12 if reading.together else reading.press
        shapes += front.strings(view, reading.asked, view.fret_mm(fret, number))
        return [*shapes, *front.finger(view, number, fret)]
    place = _place_mm(reading, view)
    if reading.method in (RULER, GAUGE):
        shapes += front.stood_beside(view, number, place)
    elif reading.method != EAR:
        shapes += front.slid_in(
            view, number, place, front.CARD_MM if reading.method == CARDS else front.BLADE_MM
        )
    shapes += front.strings(view, reading.asked)
    if reading.hold and reading.capo:
        shapes.append(front.capo(view, reading.hold))
    elif reading.hold:
        shapes += front.finger(view, number, reading.hold)
    if reading.press:
        shapes += front.finger(view, number, reading.press)
    return [*shapes, front.place_ring(view, number, place)]


def _string_name(reading: Reading, view: NeckFront) -> list[Plain]:
    """What the string is called, under the neck where no hand is."""
    mms = [_place_mm(reading, view)] if not reading.slot.is_cents else []
    mms += [view.fret_mm(reading.press)] if reading.press else []
    mms += [view.fret_mm(reading.hold)] if reading.hold and not reading.capo else []
    wide = kind_width(reading.name, "label")
    ends = [2.0 - BESIDE, *sorted(view.x(mm) for mm in mms), WIDTH - 2.0 + BESIDE]
    rooms = [(right - left - 2 * BESIDE, left + BESIDE) for left, right in pairwise(ends)]
    # At the left if it fits there, else at the right, else where there is most room.
    found = next((room for room in (rooms[0], rooms[-1]) if room[0] >= wide), max(rooms))
    x, anchor = (found[1], "start") if found is not rooms[-1] else (WIDTH - 2.0, "end")
    return [Text(x, view.bottom + 15, reading.name, "label", anchor)]


def _glass(reading: Reading, view: NeckFront) -> Magnifier:
    """The magnifier under the neck: on the side where its place is."""
    string = reading.spec.string(reading.number)
    place = view.x(_place_mm(reading, view))
    left = place < (WIDTH - NEAR_HEAD if reading.spec.left_handed else NEAR_HEAD)
    cx, cy = GLASS + 3 if left else WIDTH - GLASS - 3, view.bottom + 20 + GLASS
    return magnify(cx, cy, GLASS, string.gauge_mm, max(reading.target[1], reading.gap_mm))


# Shapes, how far down they reach, and the factor of the lines among them, 0 where there are none.
Below = tuple[list[Plain], float, int]


def _magnified(reading: Reading, view: NeckFront) -> Below:
    """The glass on its leader, and beside it the side of the neck or what the gap is called."""
    glass, place = _glass(reading, view), _place_mm(reading, view)
    x, y = view.x(place), view.string_y(reading.number, place)
    far = ((x - glass.cx) ** 2 + (y - glass.cy) ** 2) ** 0.5
    ux, uy = (x - glass.cx) / far, (y - glass.cy) / far
    shapes: list[Plain] = [
        leader((x - 10 * ux, y - 10 * uy), (glass.cx + glass.r * ux, glass.cy + glass.r * uy)),
        *seen_through(glass, _seen(reading)),
    ]
    height = glass.cy + glass.r + 3
    gap_y = (glass.floor + glass.y(max(reading.gap_mm, 0.0))) / 2
    words = "no gap" if reading.gap_mm <= 0 else "this gap"
    if reading.value_mm is not None and reading.gap_mm > 0:
        words = f"{words} {reading.units.full(reading.gap_mm)}"
    if not reading.slot.over_neck:
        return [*shapes, *_gap_beside(reading, glass, gap_y, words)], height, 0
    left, right = _beside(glass)
    sides, lines = _sides(reading, view, left, right)
    out = 1 if glass.cx < WIDTH / 2 else -1
    end, anchor = (left, "start") if out > 0 else (right, "end")
    shapes += [*sides, leader((glass.cx + out * glass.half(gap_y), gap_y), (end - 4 * out, lines.foot + 14))]
    shapes.append(Text(end, lines.foot + 19, words, "do", anchor))
    return shapes, max(height, lines.foot + 25), lines.factor


def _beside(glass: Magnifier) -> Band:
    """The room beside the glass: its left and right."""
    if glass.cx < WIDTH / 2:
        return glass.cx + glass.r + 14, WIDTH - 3
    return 3.0, glass.cx - glass.r - 14


def _gap_beside(reading: Reading, glass: Magnifier, y: float, words: str) -> list[Plain]:
    """What the gap is called, level with it on the free side of the glass."""
    to_right = glass.cx < WIDTH / 2
    out = 1 if to_right else -1
    edge, end = glass.cx + out * glass.half(y), glass.cx + out * (glass.r + 12)
    anchor = "start" if to_right else "end"
    shapes: list[Plain] = [leader((edge, y), (end, y)), Text(end + 4 * out, y + 5, words, "do", anchor)]
    if reading.method in (RULER, GAUGE):
        on = "pickup" if reading.slot.pickup else "fret"
        shapes.append(Text(end + 4 * out, y + 25, f"0 stands on the {on}", "caption", anchor))
    return shapes


def _seen(reading: Reading) -> Seen:
    pickup = reading.of_pickup
    return Seen(
        reading.spec.string(reading.number),
        reading.gap_mm,
        reading.method,
        over="pickup" if pickup else f"fret {reading.over}",
        name=string_label(reading.spec, reading.number).partition(" (")[0],
        card_mm=reading.card_mm,
        marks_mm=reading.marks_mm,
        pickup=pickup,
    )


def _sides(reading: Reading, view: NeckFront, left: float, right: float) -> tuple[list[Plain], Lines]:
    """The neck from the side, true and as lines, whose factor holds whatever the target allows."""
    neck, y = reading.neck, view.bottom + 40
    stop = min(view.to_mm, neck.scale_mm) if reading.of_bow else neck.scale_mm + 10
    along = Along(-HEAD_MM, stop, left, right, reading.spec.left_handed)
    level, *target = (reading.level(gap) for gap in (reading.gap_mm, *reading.target))
    lines = lines_for(neck, along, strip_bottom(neck, along, y) + 28, 22, [level, *target])
    rests = [neck.fret_at(reading.hold), neck.fret_at(reading.press) if reading.press else neck.scale_mm]
    shapes: list[Plain] = [
        Text(left, view.bottom + 32, "the neck, true", "caption", "start"),
        *true_strip(neck, along, y),
        Line(along.x(0), y, along.x(min(along.to_mm, neck.scale_mm)), y, "thin"),
        Circle(along.x(neck.fret_at(reading.over)), y, 5.0, "accent"),
        Text(left, lines.top - 11, f"lines only, × {lines.factor}", "caption", "start"),
        lines.target(*target),
        *lines.frets(level),
        *lines.string(*rests),
        lines.gap(reading.over, reading.gap_mm),
    ]
    return shapes, lines


def _tuned(reading: Reading, view: NeckFront) -> Below:
    """The tuner's face under the neck."""
    foot = view.bottom + 24 + CENTS_RADIUS
    return tuner_face(WIDTH / 2, foot, CENTS_RADIUS, reading.value_cents), foot + 7, 0


def _words(reading: Reading) -> tuple[str, list[str]]:
    """The title, and in sentences where the hands go and what is drawn."""
    units, name = reading.units, reading.name if reading.together else f"the {reading.name}"
    if reading.slot.is_cents:
        frets = sorted({12, reading.press}) if reading.together else [reading.press]
        said = [f"Tune the open string, then play {name} at the frets marked and read the cents."]
        said += [f"Press at fret {f}, {_from_nut(reading, f)}." for f in frets]
        if reading.value_cents is not None:
            said.append(f"The tuner shows {reading.value_cents:+g} cents.".replace("-", "\N{MINUS SIGN}"))
        return "Where to play for the intonation", said
    said = []
    if reading.hold:
        said.append(f"Hold {name} down at fret {reading.hold}, {_from_nut(reading, reading.hold)}.")
    elif not reading.of_pickup:
        said.append(f"Leave {name} open.")
    if reading.press:
        said.append(f"Press {name} down at fret {reading.press}, {_from_nut(reading, reading.press)}.")
    if reading.slot.pickup is not None:
        top = pickup_label(reading.spec, reading.slot.pickup).lower()
        said.append(f"Read the gap between the top of the {top} and the underside of the string.")
    else:
        where = _from_nut(reading, reading.over)
        said.append(
            f"Read the gap between the top of fret {reading.over} and the underside of the string, {where}."
        )
    said.append(f"The drawing shows a gap of {units.full(reading.gap_mm)}.")
    if reading.target[1] > 0:
        said.append(f"The target is {units.band(*reading.target)}.")
    return f"Where to measure the {label(reading.slot.check)}", said


def _from_nut(reading: Reading, fret: int) -> str:
    return f"{long_length(reading.neck.fret_at(fret), reading.units)} from the nut"
