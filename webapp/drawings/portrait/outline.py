"""The outline of an instrument in millimetres, from its description: body, head, bridge and pickups.

Every shape here is our own and plain: a slab with soft shoulders for solid bodies, a figure of eight for
acoustic ones, a paddle for the head.  What the description says (scale, joint fret, strings and their
spacing, bridge, posts, pickups) is true to it; body and head are only as long and wide as such instruments
commonly are.

Places are (along, across): `along` mm from the nut's middle towards the saddle, `across` mm from the centre
line, minus on the bass side.  On fanned frets fret `SQUARE_FRET` stands square to the centre line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from math import ceil

from webapp.physics.arc import string_offset
from webapp.physics.frets import fret_position
from webapp.trade.spec import InstrumentSpec, PickupSpec
from webapp.trade.words import BridgeType, PickupPosition, PickupType, RodNut, RodType

Place = tuple[float, float]
Points = tuple[Place, ...]

SQUARE_FRET = (
    8  # descriptions do not say which fret of a fan is square; makers choose about the 7th to the 9th
)
BASS_GAUGE_MM = 2.0  # a thickest string above this is a bass's
BOARD_EDGE_MM = 3.5  # board outside the outer strings
DOTS = (3, 5, 7, 9, 12, 15, 17, 19, 21, 24, 27, 29, 31, 33, 36)
# How far before the saddle a pickup's middle stands, as a share of the scale.
PICKUP_SHARES = {PickupPosition.NECK: 0.235, PickupPosition.MIDDLE: 0.16, PickupPosition.BRIDGE: 0.08}


class Build(StrEnum):
    """What the body is like, as far as a picture needs to know."""

    SOLID_BASS = "solid bass"
    SOLID_GUITAR = "solid guitar"
    ACOUSTIC = "acoustic"
    CLASSICAL = "classical"


@dataclass(frozen=True)
class Body:
    """How long and wide: shares of the scale length, and the outline of each half.

    An outline is (share of the body's length from its neck end, share of the half width), from the neck to
    the middle of the tail.
    """

    length: float
    half_width: float
    bass: Points
    treble: Points


_FIGURE_OF_EIGHT: Points = (
    (0.0, 0.22), (0.008, 0.40), (0.055, 0.59), (0.15, 0.70), (0.26, 0.70), (0.385, 0.645), (0.50, 0.74),
    (0.61, 0.89), (0.725, 0.99), (0.84, 0.96), (0.935, 0.74), (0.985, 0.40), (1.0, 0.0),
)  # fmt: skip
_GUITAR_SLAB: Points = (
    (0.035, 0.22), (0.005, 0.36), (0.0, 0.52), (0.045, 0.70), (0.16, 0.80), (0.31, 0.80), (0.45, 0.785),
    (0.58, 0.845), (0.69, 0.935), (0.80, 0.975), (0.895, 0.885), (0.965, 0.60), (1.0, 0.0),
)  # fmt: skip
# A bass hangs by its long neck: its bass-side shoulder reaches further along it, and the waist slants too.
_BASS_SLAB_BASS: Points = (
    (-0.015, 0.20), (-0.045, 0.36), (-0.07, 0.52), (-0.05, 0.71), (0.06, 0.84), (0.23, 0.85), (0.40, 0.80),
    (0.58, 0.84), (0.70, 0.905), (0.80, 0.935), (0.895, 0.855), (0.965, 0.59), (1.0, 0.0),
)  # fmt: skip
_BASS_SLAB_TREBLE: Points = (
    (0.06, 0.20), (0.065, 0.36), (0.08, 0.53), (0.135, 0.71), (0.26, 0.81), (0.40, 0.80), (0.55, 0.79),
    (0.69, 0.88), (0.79, 0.96), (0.87, 0.945), (0.94, 0.80), (0.985, 0.48), (1.0, 0.0),
)  # fmt: skip
_BODIES = {
    Build.SOLID_BASS: Body(0.0, 0.192, _BASS_SLAB_BASS, _BASS_SLAB_TREBLE),
    Build.SOLID_GUITAR: Body(0.0, 0.245, _GUITAR_SLAB, _GUITAR_SLAB),
    Build.ACOUSTIC: Body(0.775, 0.305, _FIGURE_OF_EIGHT, _FIGURE_OF_EIGHT),
    Build.CLASSICAL: Body(0.748, 0.282, _FIGURE_OF_EIGHT, _FIGURE_OF_EIGHT),
}
_TAIL = {Build.SOLID_BASS: 0.105, Build.SOLID_GUITAR: 0.135}  # body behind the saddle, shares of the scale


def build_of(spec: InstrumentSpec) -> Build:
    """A one-piece saddle sits on a sound board; without a rod under a flat board it carries nylon strings."""
    if spec.bridge.type is BridgeType.ONE_PIECE:
        nylon = spec.rod.type is RodType.NONE and spec.radius_nut_mm is None
        return Build.CLASSICAL if nylon else Build.ACOUSTIC
    return Build.SOLID_BASS if is_bass(spec) else Build.SOLID_GUITAR


def is_bass(spec: InstrumentSpec) -> bool:
    return max(string.gauge_mm for string in spec.strings) > BASS_GAUGE_MM


@dataclass(frozen=True)
class Outline:
    """One instrument's places and shapes in mm (see the module)."""

    spec: InstrumentSpec

    @cached_property
    def build(self) -> Build:
        return build_of(self.spec)

    @property
    def is_solid(self) -> bool:
        return self.build in _TAIL

    @cached_property
    def scale_mm(self) -> float:
        """The scale on the centre line."""
        return (self.spec.scale_bass_mm + self.spec.scale_treble_mm) / 2

    # Along and across -----------------------------------------------------------------------------------

    def along(self, fret: float, part: float = 0.5) -> float:
        """A fret's place, `part` of the way from the bass string (0) to the treble string (1)."""
        scale = self._scale_at(part)
        return float(fret_position(scale, fret)) + self._fan(part)

    def saddle(self, part: float = 0.5) -> float:
        """The saddle's place at that part of the way."""
        return self._scale_at(part) + self._fan(part)

    def _scale_at(self, part: float) -> float:
        return self.spec.scale_bass_mm + (self.spec.scale_treble_mm - self.spec.scale_bass_mm) * part

    def _fan(self, part: float) -> float:
        """Where a side's nut stands, so that fret `SQUARE_FRET` is square to the centre line."""
        square = [float(fret_position(scale, SQUARE_FRET)) for scale in (self.scale_mm, self._scale_at(part))]
        return square[0] - square[1]

    def spread(self, along: float) -> float:
        """Outer string to outer string at a place, mm."""
        spec = self.spec
        return spec.spacing_nut_mm + (spec.spacing_bridge_mm - spec.spacing_nut_mm) * along / self.scale_mm

    def string_across(self, index: int, along: float) -> float:
        """A string's place across; index 0 is the bass string."""
        return string_offset(index, self.spec.string_count, self.spread(along))

    def on_line(self, fret: float, edge_mm: float) -> tuple[Place, Place]:
        """The bass and treble end of a line along a fret that reaches `edge_mm` past the outer strings."""
        return self._across_line(self.along(fret, 0), self.along(fret, 1), edge_mm)

    def _across_line(self, bass: float, treble: float, edge_mm: float) -> tuple[Place, Place]:
        """A line through the outer strings at these places along, and `edge_mm` past them."""
        half = self.spread((bass + treble) / 2) / 2
        slope = (treble - bass) / (2 * half)
        return (bass - slope * edge_mm, -half - edge_mm), (treble + slope * edge_mm, half + edge_mm)

    def bar(self, behind_mm: float, depth_mm: float, edge_mm: float, share: float = 0.0) -> Points:
        """A bar across the strings, `share` of the scale before the saddle and `behind_mm` behind that.

        Four corners: its front edge bass and treble, its back edge treble and bass.
        """
        bass, treble = (self.saddle(part) - share * self._scale_at(part) + behind_mm for part in (0, 1))
        front = self._across_line(bass - depth_mm / 2, treble - depth_mm / 2, edge_mm)
        back = self._across_line(bass + depth_mm / 2, treble + depth_mm / 2, edge_mm)
        return front[0], front[1], back[1], back[0]

    # Neck and head --------------------------------------------------------------------------------------

    @cached_property
    def board_end_fret(self) -> float:
        """The board ends a little past its last fret."""
        return self.spec.fret_count + 0.6

    @cached_property
    def board(self) -> Points:
        start, end = self.on_line(0, BOARD_EDGE_MM), self.on_line(self.board_end_fret, BOARD_EDGE_MM)
        return start[0], end[0], end[1], start[1]

    @cached_property
    def board_end(self) -> float:
        return self.along(self.board_end_fret)

    @cached_property
    def joint(self) -> float:
        return self.along(self.spec.joint_fret)

    @cached_property
    def ends(self) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """For the head's bass and treble side, the string (its index) of every tuner, outermost first."""
        many = [len(string.course) for string in self.spec.strings]
        cut = ceil(len(many) / 2)
        bass = [i for i in range(cut) for _ in range(many[i])]
        treble = [i for i in reversed(range(cut, len(many))) for _ in range(many[i])]
        return tuple(bass), tuple(treble)

    @cached_property
    def tuner_pitch(self) -> float:
        """Along the head, from one tuner to the next."""
        most = max(len(side) for side in self.ends)
        room = 118.0 if is_bass(self.spec) else 84.0 if most <= 4 else 122.0
        return room / max(most - 1, 1) if most > 2 else 62.0

    @cached_property
    def first_tuner(self) -> float:
        return -52.0 if is_bass(self.spec) else -44.0

    @cached_property
    def head_length(self) -> float:
        if self.spec.headless:
            return 24.0
        most = max(len(side) for side in self.ends)
        return -self.first_tuner + (most - 1) * self.tuner_pitch + (34.0 if is_bass(self.spec) else 28.0)

    def head_half(self, along: float) -> float:
        """Half the head's width at a place; it grows a little from the nut on."""
        nut = self.spec.spacing_nut_mm / 2 + BOARD_EDGE_MM
        wide = nut + (14.0 if is_bass(self.spec) else 11.0)
        return nut if self.spec.headless else nut + (wide - nut) * min(1.0, -along / 48.0)

    @cached_property
    def head(self) -> Points:
        top = -self.head_length
        # Each corner with how much of a fanned nut's slant it takes.
        shape = [(0.0, self.head_half(0), 1.0), (top, self.head_half(top) - 3.0, 0.0)]
        if not self.spec.headless:
            shape[1:1] = [(-12.0, self.head_half(-12.0), 1.0), (-48.0, self.head_half(-48.0), 0.3)]
        else:
            shape[1] = (top, self.head_half(0), 1.0)
        bass, treble = (self.along(0, part) for part in (0, 1))
        left = tuple((a + slant * bass, -half) for a, half, slant in shape)
        return left + tuple((a + slant * treble, half) for a, half, slant in reversed(shape))

    def tuners(self) -> list[tuple[int, Place, Place]]:
        """Every tuner: its string's index, its post and its button."""
        if self.spec.headless:
            return []
        places = []
        for sign, side in zip((-1.0, 1.0), self.ends, strict=True):
            for count, index in enumerate(side):
                along = self.first_tuner - count * self.tuner_pitch
                half = self.head_half(along)
                inside = half - (11.0 if self.build is Build.CLASSICAL else 9.0)
                places.append((index, (along, sign * inside), (along, sign * (half + 6.0))))
        return places

    def slots(self) -> list[Points]:
        """The two slots of a classical head."""
        if self.build is not Build.CLASSICAL or self.spec.headless:
            return []
        front, back = self.first_tuner + 16.0, self.first_tuner - 2 * self.tuner_pitch - 10.0
        half = self.head_half(self.first_tuner) - 11.0
        low, high = half - 7.0, half + 6.0
        return [((front, s * low), (front, s * high), (back, s * high), (back, s * low)) for s in (-1.0, 1.0)]

    @property
    def rod_nut(self) -> Place | None:
        """Where the rod's nut is reached; None without a rod."""
        spec = self.spec
        if spec.rod.type is RodType.NONE:
            return None
        if spec.rod.nut_at is RodNut.BODY:
            hole_edge = self.hole[0] - self.hole[1] if self.hole else 0.0
            return max(self.board_end + 7.0, hole_edge + 9.0), 0.0
        return self.along(0) - (13.0 if spec.headless else 19.0), 0.0

    # Body -----------------------------------------------------------------------------------------------

    @cached_property
    def body_length(self) -> float:
        body, behind = _BODIES[self.build], self.scale_mm - self.joint
        if self.is_solid:
            return behind + _TAIL[self.build] * self.scale_mm
        length = body.length * self.scale_mm * (0.8 if is_bass(self.spec) else 1.0)
        return max(length, behind + 0.17 * self.scale_mm)

    @cached_property
    def body_half(self) -> float:
        """Half the width of the lower bout: of a short scale too, no narrower than the strings ask for."""
        body = _BODIES[self.build]
        small = 0.8 if is_bass(self.spec) and not self.is_solid else 1.0
        least = self.spec.spacing_bridge_mm / 2 + 90.0
        return max(body.half_width * self.scale_mm * small, least)

    def body(self, inset_mm: float = 0.0) -> Points:
        """Corners of a smooth outline, from the neck's bass side round the tail to its treble side."""
        body = _BODIES[self.build]
        length, half = self.body_length - 2 * inset_mm, self.body_half - inset_mm
        start = self.joint + inset_mm

        def placed(points: Points, sign: float) -> list[Place]:
            neck = self.spread(self.joint) / 2 + BOARD_EDGE_MM
            return [(start + f * length, sign * max(w * half, neck if w else 0.0)) for f, w in points]

        return (*placed(body.bass, -1.0), *reversed(placed(body.treble, 1.0)[:-1]))

    @cached_property
    def hole(self) -> tuple[float, float] | None:
        """The sound hole's middle along the body and its radius; the board ends at its edge."""
        if self.is_solid:
            return None
        radius = 0.077 * self.scale_mm * (0.8 if is_bass(self.spec) else 1.0)
        return max(self.board_end + radius - 3.0, self.joint + 0.30 * self.body_length), radius

    # Pickups and bridge ---------------------------------------------------------------------------------

    def pickup_share(self, pickup: PickupSpec) -> float:
        """How far before the saddle its middle stands: a share of the scale, clear of the board's end."""
        room = (self.saddle() - self.board_end - pickup_depth(pickup) / 2 - 3.0) / self.scale_mm
        return min(PICKUP_SHARES[pickup.position], room)

    def pickup_parts(self, pickup: PickupSpec) -> list[Points]:
        """Its cover as seen from the front; a split one has two halves, the bass strings' nearer the neck."""
        edge = 12.0 if is_bass(self.spec) else 9.0
        share, depth = self.pickup_share(pickup), pickup_depth(pickup)
        if pickup.type is not PickupType.SPLIT:
            return [self.bar(0.0, depth, edge, share)]
        step = 0.56 * depth
        halves: list[Points] = []
        for behind, low, high in ((-step, 0.0, 0.54), (step, 0.46, 1.0)):
            a, b, c, d = self.bar(behind, depth, edge, share)
            halves.append(
                (_between(a, b, low), _between(a, b, high), _between(d, c, high), _between(d, c, low))
            )
        return halves

    def pickup_end(self, pickup: PickupSpec, side: str) -> Place:
        """Where the height screw of one side is."""
        parts = self.pickup_parts(pickup)
        part = parts[0] if side == "bass" else parts[-1]
        ends = (part[0], part[3]) if side == "bass" else (part[1], part[2])
        inward = 4.0 if side == "bass" else -4.0
        return (ends[0][0] + ends[1][0]) / 2, (ends[0][1] + ends[1][1]) / 2 + inward

    @cached_property
    def posts(self) -> tuple[Place, Place] | None:
        """The two posts of a bridge that stands on them, bass first."""
        bridge = self.spec.bridge
        if bridge.type not in (BridgeType.TWO_POST, BridgeType.FLOATING):
            return None
        spacing = bridge.post_spacing_mm or self.spec.spacing_bridge_mm + 22.0
        before = -16.0 if bridge.type is BridgeType.FLOATING else 0.0
        edge = (spacing - self.spec.spacing_bridge_mm) / 2
        bass, treble = (self.saddle(part) + before for part in (0, 1))
        return self._across_line(bass, treble, edge)

    def anchor(self, index: int) -> Place:
        """Where a string ends behind its saddle."""
        part = index / (self.spec.string_count - 1)
        behind = {
            BridgeType.INDIVIDUAL: 34.0 if is_bass(self.spec) else 26.0,
            BridgeType.FLOATING: 12.0,
            BridgeType.TWO_POST: 42.0,
            BridgeType.ONE_PIECE: 14.0,
        }[self.spec.bridge.type]
        return self.saddle(part) + behind, self.string_across(index, self.scale_mm)

    @cached_property
    def extent(self) -> tuple[float, float, float]:
        """How far the whole reaches: along from, along to, and to each side of the centre line."""
        buttons = [abs(button[1]) + 7.0 for _, _, button in self.tuners()]
        start = min(place[0] for place in self.head)
        return start, self.joint + self.body_length, max([self.body_half, *buttons])


def pickup_depth(pickup: PickupSpec) -> float:
    """Along the strings, mm."""
    return {PickupType.SINGLE: 20.0, PickupType.SPLIT: 26.0, PickupType.DUAL: 38.0}[pickup.type]


def _between(one: Place, other: Place, part: float) -> Place:
    return one[0] + (other[0] - one[0]) * part, one[1] + (other[1] - one[1]) * part


def curve(corners: Sequence[Place]) -> list[tuple[Place, Place, Place]]:
    """Cubic pieces of the closed smooth curve through the corners (Catmull-Rom): two handles and an end each.

    The piece between the last corner and the first is straight: there the neck lies over the body.
    """
    count = len(corners)
    pieces = []
    for i in range(count - 1):
        before, here = corners[max(i - 1, 0)], corners[i]
        there, after = corners[i + 1], corners[min(i + 2, count - 1)]
        one = (here[0] + (there[0] - before[0]) / 6, here[1] + (there[1] - before[1]) / 6)
        two = (there[0] - (after[0] - here[0]) / 6, there[1] - (after[1] - here[1]) / 6)
        pieces.append((one, two, there))
    return pieces
