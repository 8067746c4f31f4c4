"""Draws an instrument and what its player owns, from a seed and a number, in a given world."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tests.trial import swing
from tests.trial.bridge import Bridge
from tests.trial.instrument import Instrument, Pickup
from tests.trial.kinds import KINDS, PICKUP_USUAL, POST_SPACING_MM, Kind
from tests.trial.neck import Bend, fret_places, gap_under_line, s_shape, said_as_one, upper_board
from tests.trial.pitch import stiffness
from tests.trial.rod import Rod
from tests.trial.world import PLAIN, World

Array = NDArray[np.float64]
Rng = np.random.Generator

# Pitch in mm, how often, and the name that a player would give it (None: no common one).
SADDLE_SCREWS = ((0.5, 0.46, "M3"), (0.45, 0.14, "M2.5"), (0.635, 0.16, "4-40"), (0.7, 0.12, "M4"),
                 (0.79375, 0.07, "6-32"), (0.4, 0.03, None), (0.6, 0.02, None))  # fmt: skip
LONG_SCREWS = ((0.5, 0.52, "M3"), (0.45, 0.10, "M2.5"), (0.635, 0.18, "4-40"), (0.7, 0.10, "M4"),
               (0.79375, 0.07, "6-32"), (0.4, 0.03, None))  # fmt: skip
POSTS = ((0.7, 0.25, "M4"), (0.8, 0.25, "M5"), (1.0, 0.25, "M6"), (0.79375, 0.15, "8-32"), (1.25, 0.10, "M8"))
PICKUP_SCREWS = ((0.5, 0.4, "M3"), (0.45, 0.15, "M2.5"), (0.635, 0.3, "4-40"), (0.79375, 0.15, "6-32"))
Screws = tuple[tuple[float, float, str | None], ...]
INTONATION_SD_CENTS = 14.0
NUT_GAP_MM = 0.42


def draw(seed: int, index: int, world: World = PLAIN) -> Instrument:
    """The instrument number `index` of a seed: the same again in the same world."""
    rng = np.random.default_rng([seed, index, 0])
    kind = _kind(rng)
    x = fret_places(kind.scale_mm, kind.frets)
    still, answer = _neck(rng, kind, x, world)
    rod = _rod(rng, kind, world)
    one_piece = kind.bridge == "one_piece"
    screws = POSTS if kind.bridge == "posts" else SADDLE_SCREWS
    height_pitch, height_told = _screw(rng, screws)
    back_pitch, back_told = _screw(rng, LONG_SCREWS)
    told = {} if one_piece else {"height_thread": height_told, "intonation_thread": back_told}
    bridge = _bridge(rng, kind, 0.0 if one_piece else height_pitch, 0.0 if one_piece else back_pitch)
    count = len(kind.strings)
    made = Instrument(
        kind, x, still, answer, rod, bridge,
        nut_above_mm=np.zeros(count),
        stiff=np.array([stiffness(g, kind.scale_mm) for g in kind.strings]) * rng.normal(1.0, 0.15, count),
        finger_mm=np.abs(rng.normal(0.003, 0.0015, count)),
        cents_left=rng.normal(0.0, 1.0, (count, kind.frets + 1)),
        pickups=[], swing_mm=medium_swing(kind) * rng.normal(1.0, 0.10), told=told,
    )  # fmt: skip
    _set_nut(rng, made)
    _set_heights(rng, made)
    _set_intonation(rng, made)
    _set_pickups(rng, made)
    _set_faults(rng, made, world)
    return made


def _kind(rng: Rng) -> Kind:
    kinds = list(KINDS.values())
    odds = np.array([kind.often for kind in kinds])
    return kinds[int(rng.choice(len(kinds), p=odds / odds.sum()))]


def _neck(rng: Rng, kind: Kind, x: Array, world: World) -> tuple[Array, Array]:
    """Fret tops per string, and what the rod's relief adds: bends of different make, a wave, a rise, wear."""
    end = x[kind.joint]
    uneven = world.uneven
    load = Bend(skew=rng.normal(0.25, 0.2 * uneven), belly=rng.normal(0.0, 0.15 * uneven))
    off = world.coupling * (1.0 if rng.random() < 0.5 else -1.0)
    pull = Bend(skew=rng.normal(0.25, 0.2), belly=rng.normal(0.0, 0.15))
    pull = Bend(pull.skew, pull.belly, hinge_for(kind, x, pull, off))
    answer = said_as_one(x, pull.heights(x, end), kind.standard)
    bow = said_as_one(x, load.heights(x, end), kind.standard)
    odd = rng.normal(0.0, 0.03 * uneven) * s_shape(x, end) + rng.normal(0.0, 0.05 * uneven) * upper_board(
        x, end
    )
    wear = rng.normal(0.0, rng.uniform(0.010, 0.020), len(x)) + odd
    each = wear + rng.normal(0.0, 0.005, (len(kind.strings), len(x)))
    each[:, 0] = odd[0]
    each -= _drop(kind.radius_mm, _offsets(kind, x / kind.scale_mm))
    middle = each[len(kind.strings) // 2]
    wanted = _relief_found(rng, kind)
    return each + (wanted - gap_under_line(x, middle, *kind.standard)) * bow, answer


def hinge_for(kind: Kind, x: Array, bend: Bend, off: float) -> float:
    """The hinge that makes the heights' answer to the rod `off` times larger (minus: smaller)."""
    if not off:
        return 0.0
    plain, tipped = (action_per_relief(kind, x, Bend(bend.skew, bend.belly, hinge)) for hinge in (0.0, 1.0))
    return off * plain / (tipped - plain)


def action_per_relief(kind: Kind, x: Array, bend: Bend) -> float:
    """mm of height at 12, held at 1, per mm of relief that the rod lets in with the saddles left alone."""
    line = said_as_one(x, bend.heights(x, x[kind.joint]), kind.standard)
    part = (x[12] - x[1]) / (kind.scale_mm - x[1])
    return float(line[1] * (1.0 - part) - line[12])


def _relief_found(rng: Rng, kind: Kind) -> float:
    low, high = kind.bands.relief_usual
    as_found = rng.random()
    if as_found < 0.30:
        return float(rng.uniform(low, high))
    if as_found < 0.72:
        return float(high + abs(rng.normal(0.0, 0.35 * high)))
    return float(low - abs(rng.normal(0.0, 0.30 * high)))


def _offsets(kind: Kind, part: Array) -> Array:
    """[string, place]: how far from the middle each string runs, minus on the bass side."""
    spread = kind.spacing_nut_mm + part * (kind.spacing_bridge_mm - kind.spacing_nut_mm)
    across = np.linspace(-0.5, 0.5, len(kind.strings))
    return np.asarray(across[:, None] * spread[None, :])


def _drop(radius_mm: float, offset_mm: Array) -> Array:
    """How far the board's arc has fallen off at this distance from its middle."""
    return np.asarray(radius_mm - np.sqrt(radius_mm**2 - offset_mm**2))


def _rod(rng: Rng, kind: Kind, world: World) -> Rod:
    middle = 0.062 if kind.is_bass else 0.050
    response = float(np.clip(rng.lognormal(np.log(middle), 0.40), 0.02, 0.12)) * world.rod_strength
    play = float(rng.uniform(0.0, 1.0))
    tighter, looser = rng.uniform(9.0, 20.0, 2)
    fate, end = rng.random(2)
    if fate < world.short_room:
        tighter, looser = (0.0, looser) if end < 0.5 else (tighter, 0.0)
    creep = float(np.clip(rng.normal(0.2, 0.05), 0.05, 0.35))
    rod = Rod(response, play, creep, float(tighter), float(looser), slack=float(rng.uniform(0.0, play)))
    fate = float(rng.random())
    if fate < world.stuck:
        rod.seized, rod.response_mm = end < 0.5, 0.0
    elif fate < world.stuck + world.reversed:
        rod.response_mm = -response
    return rod


def _screw(rng: Rng, screws: Screws) -> tuple[float, str]:
    """A pitch and what the player says of it: the truth, nothing, or another thread's name."""
    odds = np.array([screw[1] for screw in screws])
    which = int(rng.choice(len(screws), p=odds / odds.sum()))
    pitch, _, name = screws[which]
    says, wrong = rng.random(), int(rng.integers(1, len(screws)))
    other = screws[(which + wrong) % len(screws)][2]
    if says < 0.80:
        return pitch, name or "unknown"
    return pitch, "unknown" if says < 0.95 else other or "unknown"


def _bridge(rng: Rng, kind: Kind, height_pitch: float, back_pitch: float) -> Bridge:
    """Its strings still at height 0; a bar has its own arc, set once and for all."""
    count = len(kind.strings)
    return Bridge(
        height_mm=np.zeros(count),
        back_mm=np.zeros(count),
        offsets_mm=_offsets(kind, np.ones(1))[:, 0],
        height_pitch_mm=height_pitch,
        back_pitch_mm=back_pitch,
        room_up_mm=np.full(count, 12.0),
        room_down_mm=np.full(count, 12.0),
        room_back_mm=rng.uniform(1.0, 5.0, count),
        room_forward_mm=rng.uniform(1.0, 5.0, count),
        posts=(-POST_SPACING_MM / 2, POST_SPACING_MM / 2) if kind.bridge == "posts" else None,
    )


def _set_heights(rng: Rng, made: Instrument) -> None:
    """As found: all high, all low, every string its own, or nearly right."""
    kind, count = made.kind, len(made.kind.strings)
    target = _target_heights(kind)
    size = target.mean() / 2.3
    found = rng.random()
    common = 0.0
    own = rng.normal(0.0, 0.15 if kind.bridge != "saddles" else 0.55, count) * size
    if found < 0.35:
        common, own = rng.uniform(0.6, 1.8) * size, own * 0.4
    elif found < 0.50:
        common, own = -rng.uniform(0.3, 0.9) * size, own * 0.4
    elif found < 0.65:
        own = own * 0.4
    tilt = rng.normal(0.0, 0.25) * size * np.linspace(-1.0, 1.0, count)
    if kind.bridge == "posts":
        _set_bar(rng, made, target, common, tilt)
        return
    wanted = np.maximum(target + common + tilt + own, 0.5)
    if kind.bridge == "one_piece":
        wanted = np.maximum(target + 0.7 * common + 0.7 * tilt + 0.4 * own, 0.5)
    _saddles_to(made, wanted)


def _target_heights(kind: Kind) -> Array:
    """The middles of the target bands, bass side first."""
    bands = kind.bands
    return np.array([np.mean(bands.height(kind.across(i), usual=False)) for i in range(len(kind.strings))])


def _saddles_to(made: Instrument, wanted: Array) -> None:
    """Give every string this height at 12, held at 1: a line from fret 1 over it to the saddle."""
    for index in range(len(wanted)):
        tops, x = made.tops(index), made.along_mm
        part = (x[12] - x[1]) / (made.kind.scale_mm - x[1])
        made.bridge.height_mm[index] = tops[1] + (tops[12] + wanted[index] - tops[1]) / part


def _set_bar(rng: Rng, made: Instrument, target: Array, common: float, tilt: Array) -> None:
    """A bar whose arc may miss the board's by a little, at the height where its strings are on average."""
    kind, bridge = made.kind, made.bridge
    own_radius = kind.radius_mm * float(rng.lognormal(0.0, 0.06))
    arc = -_drop(own_radius, bridge.offsets_mm) + rng.normal(0.0, 0.04, len(target))
    _saddles_to(made, target + common + tilt)
    off = bridge.height_mm - arc
    slope, level = np.polyfit(bridge.offsets_mm, off, 1)
    bridge.height_mm = arc + level + slope * bridge.offsets_mm


def _set_nut(rng: Rng, made: Instrument) -> None:
    """Slots mostly right, now and then one high or one low: as cut, on a neck and saddles that were right.

    The nut rides on the neck, so more bow lifts the open strings off fret 1, and less brings them down.
    """
    found, made.rod.moved_mm = made.rod.moved_mm, _target_relief(made.kind) - made.standard_relief
    _saddles_to(made, _target_heights(made.kind))
    for string in made.strings:
        wanted = rng.normal(NUT_GAP_MM, 0.06)
        odd = rng.random()
        wanted = wanted + 0.4 if odd < 0.03 else 0.10 if odd < 0.04 else wanted
        index = made.index(string)
        per = 1.0 - made.along_mm[1] / made.saddle(index)[0]
        made.nut_above_mm[index] += (wanted - made.nut_gap(string)) / per
    made.rod.moved_mm = found


def _target_relief(kind: Kind) -> float:
    return float(np.mean(kind.bands.relief_target))


def _set_intonation(rng: Rng, made: Instrument) -> None:
    """Place every saddle so that its 12th is off by the wanted cents, with room to mend it nearly always."""
    for string in made.strings:
        index = made.index(string)
        wanted = float(rng.normal(0.0, INTONATION_SD_CENTS))
        if made.kind.bridge == "one_piece":
            wanted *= 0.35
        for _ in range(4):
            made.bridge.back_mm[index] += (made.cents(string, 12) - wanted) / cents_per_mm(made.kind, 12)
        need = wanted / cents_per_mm(made.kind, 12)
        if rng.random() < 0.004:
            continue
        made.bridge.room_back_mm[index] += max(need, 0.0) + 1.0
        made.bridge.room_forward_mm[index] += max(-need, 0.0) + 1.0


def cents_per_mm(kind: Kind, fret: int) -> float:
    """How far a fretted note falls per mm that its saddle moves back, the open string retuned."""
    return float(1200.0 / np.log(2.0) * (2.0 ** (fret / 12.0) - 1.0) / kind.scale_mm)


def _set_pickups(rng: Rng, made: Instrument) -> None:
    places = np.linspace(0.24, 0.07, max(len(made.kind.pickups), 2))
    for number, pickup in enumerate(made.kind.pickups):
        pitch, _ = _screw(rng, PICKUP_SCREWS)
        there = Pickup(float(made.kind.scale_mm * (1.0 - places[number])), np.zeros(2), pitch)
        made.pickups.append(there)
        for end, side in enumerate(("bass", "treble")):
            middle = float(np.mean(PICKUP_USUAL[made.kind.is_bass, pickup][end]))
            wanted = max(middle + rng.normal(0.0, 0.9), 0.4)
            there.top_mm[end] += made.pickup_gap(number + 1, side) - wanted


def _set_faults(rng: Rng, made: Instrument, world: World) -> None:
    """A fret that stands proud, or a part that hums with some notes: no height cures either."""
    high, loose = rng.random(2)
    # Not a fret on which a gauge stands: what the readings say is to stay true.
    others = [f for f in range(3, made.kind.frets - 1) if f not in (*made.kind.standard, 8, 12, 13)]
    fret, by, note = int(rng.choice(others)), rng.uniform(0.20, 0.40), int(rng.integers(12))
    if high < world.high_fret:
        made.high_fret = fret
        made.still_mm[:, fret] += by
    if loose < world.loose:
        made.loose_notes = frozenset(
            (string, at)
            for string in made.strings
            for at in range(made.kind.frets + 1)
            if (made.kind.strings[made.index(string)].semitones + at) % 12 == note
        )


@lru_cache(maxsize=32)
def _clean_swings(key: str) -> tuple[float, ...]:
    kind = KINDS[key]
    x = fret_places(kind.scale_mm, kind.frets)
    reach = swing.reach_of_swing(key, kind)
    tops = _target_relief(kind) * said_as_one(x, Bend().heights(x, x[kind.joint]), kind.standard)
    found = []
    for index in range(len(kind.strings)):
        low = kind.bands.height(kind.across(index), usual=False)[0] - 0.15
        part = (x[12] - x[1]) / (kind.scale_mm - x[1])
        up = tops[1] + (tops[12] + low - tops[1]) / part
        nut = (tops[1] + NUT_GAP_MM - up * x[1] / kind.scale_mm) / (1.0 - x[1] / kind.scale_mm)
        found.append(swing.largest_clean(reach, swing.clearances(x, tops, nut, (kind.scale_mm, up))))
    return tuple(found)


def medium_swing(kind: Kind) -> Array:
    """Per string: the largest clean pluck, by this trial's swing, at the low edge of the medium target."""
    return np.array(_clean_swings(kind.key))
