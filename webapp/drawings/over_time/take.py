"""A take: what to play, in order, and what was heard, note by note along the seconds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from webapp.drawings.over_time.axes import ticks_of
from webapp.drawings.shapes import WIDTH, Drawing, Line, Plain, Rect, Text, disc, kind_width, place_row
from webapp.physics.frets import fret_position

LANE, TOP, NOTE, RADIUS = 34.0, 8.0, 18.0, 10.0
# A note is drawn as long as it is asked to ring, or until the next begins.
RINGS_S = 3.0
EDGE = 14.0


@dataclass(frozen=True)
class Step:
    """One thing to play: at which fret, and how often."""

    fret: int
    times: int


def steps_drawing(scale_mm: float, steps: Sequence[Step], last_fret: int) -> Drawing:
    """One string from the nut to its saddle, true to scale, each step's number where the finger goes."""
    left, right, y = 34.0, WIDTH - 16.0, 44.0
    per_mm = (right - left) / scale_mm

    def x(fret: int) -> float:
        return left + fret_position(scale_mm, fret) * per_mm

    shapes: list[Plain] = [Rect(left, y - 9, x(last_fret) - left + 6, 18, "board")]
    shapes += [Line(x(fret), y - 9, x(fret), y + 9, "thin") for fret in range(1, last_fret + 1)]
    shapes += [Line(left, y - 11, left, y + 11, "ruling"), Line(right, y - 11, right, y + 11, "ruling")]
    shapes.append(Line(left - 18, y, right, y, "string-line"))
    # A finger lies behind its fret; an open string is plucked, and has its number before the nut.
    first = {step.fret: number for number, step in reversed(list(enumerate(steps, 1)))}
    frets = sorted(first)
    centres = [(x(fret) + x(fret - 1)) / 2 if fret else left - 20 for fret in frets]
    across = dict(zip(frets, place_row(centres, [2 * RADIUS] * len(frets), 2, right), strict=True))
    for number, step in enumerate(steps, 1):
        again = number != first[step.fret]
        shapes += disc(number, across[step.fret], y + 26 if again else y - 26, RADIUS)
    shapes += [Text(across[fret], y + 30, str(fret), "label") for fret in frets if fret]
    told = ", ".join(f"{n}: {_where(step.fret)} {_times(step.times)}" for n, step in enumerate(steps, 1))
    return Drawing(WIDTH, y + 44, tuple(shapes), "What to play, in order", f"{told}.")


def _where(fret: int) -> str:
    return f"fret {fret}" if fret else "the open string"


def _times(times: int) -> str:
    return {1: "once", 2: "twice"}.get(times, f"{times} times")


@dataclass(frozen=True)
class Played:
    """A note as heard: its number on the page, its lane, when it began, whether it counts, in words."""

    number: int
    lane: str
    start_s: float
    counts: bool
    said: str


def take_drawing(
    lanes: Sequence[str], played: Sequence[Played], left_out_s: Sequence[float], seconds: float
) -> Drawing:
    """A lane a place, a bar a note; one that does not count is dashed, what was no note a small cross.

    `left_out_s`: when something else was heard.
    """
    left = EDGE + max((kind_width(lane, "label") for lane in lanes), default=0.0)
    right, bottom = WIDTH - EDGE, TOP + LANE * len(lanes)
    per_s = (right - left) / max(seconds, 1.0)
    shapes: list[Plain] = []
    for row, lane in enumerate(lanes):
        y = TOP + LANE * (row + 0.5)
        shapes += [Text(0, y + 4, lane, "label", "start"), Line(left, y, right, y, "faint")]
    starts = sorted({*(one.start_s for one in played), *left_out_s, seconds})
    for one in played:
        y = TOP + LANE * (lanes.index(one.lane) + 0.5)
        until = min(
            one.start_s + RINGS_S, next(s for s in [*starts, seconds] if s > one.start_s or s >= seconds)
        )
        shapes += _bar(one, left + one.start_s * per_s, max((until - one.start_s) * per_s - 2, 8.0), y)
    for at in left_out_s:
        shapes += _cross(left + at * per_s, bottom - 2)
    shapes += _seconds(left, right, bottom + 6, seconds)
    words = [f"{one.number}, {one.lane}, {one.said}" for one in played]
    words += [f"something else at {at:.0f} s" for at in left_out_s]
    return Drawing(WIDTH, bottom + 30, tuple(shapes), "What was heard", "; ".join(words) + ".")


def _bar(one: Played, x: float, width: float, y: float) -> Iterator[Plain]:
    kind = "target" if one.counts else "forecast"
    yield Rect(x, y - NOTE / 2, width, NOTE, kind, 2)
    if one.counts:
        yield Line(x, y - NOTE / 2, x, y + NOTE / 2, "band-edge")
    if width >= kind_width(str(one.number), "label"):
        yield Text(x + width / 2, y + 4, str(one.number), "label")


def _cross(x: float, y: float) -> Iterator[Plain]:
    yield Line(x - 4, y - 4, x + 4, y + 4, "ink")
    yield Line(x - 4, y + 4, x + 4, y - 4, "ink")


def _seconds(left: float, right: float, y: float, seconds: float) -> Iterator[Plain]:
    yield Line(left, y, right, y, "leader")
    for value, text in ticks_of(0.0, max(seconds, 1.0), right - left, "caption"):
        x = left + (right - left) * value / max(seconds, 1.0)
        yield Line(x, y, x, y + 4, "leader")
        yield Text(x, y + 18, f"{text} s" if value == 0 else text, "caption")
