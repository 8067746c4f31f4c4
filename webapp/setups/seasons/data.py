"""One place through all an instrument's journals: read, turned, and as the fit of its drift wants it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import exp, hypot
from typing import NamedTuple

import numpy as np

from webapp.physics.drift_fit import Before, DriftData
from webapp.physics.mixture import Floats, Seen
from webapp.setups.air_log.daily import day_number
from webapp.setups.belief.neck import KAPPA, PITCH, RESPONSE
from webapp.setups.belief.reading import Slips
from webapp.setups.case import Case
from webapp.setups.checks import READ_CHECKS
from webapp.setups.journal import Entry, EntryKind, Part, Turn
from webapp.setups.past.narrate import turned_words
from webapp.setups.slots import RELIEF, Slot


@dataclass(frozen=True)
class Read:
    """One reading, when, and after how many steps: `standard` said the standard way, `seen` as the range it
    is.
    """

    entry: Entry
    at: datetime
    standard: Entry
    seen: Seen
    steps_before: int


@dataclass(frozen=True)
class Stepped:
    """Turns that count as one step: which and when, and in words."""

    turns: tuple[tuple[datetime, Turn], ...]
    words: tuple[str, ...]

    @property
    def at(self) -> datetime:
        return self.turns[0][0]


@dataclass(frozen=True)
class OverTime:
    """Readings and steps of one place, oldest first. Readings in the middle of the turning are left out."""

    slot: Slot
    readings: tuple[Read, ...]
    steps: tuple[Stepped, ...]


class _Happening(NamedTuple):
    at: datetime
    entry: Entry


def over_time(case: Case, slot: Slot) -> OverTime:
    """All that concerns a slot in the instrument's journals. Turns close to each other are one step."""
    near = case.trade.practice.time.step
    groups: list[list[_Happening]] = []
    readings: list[list[_Happening]] = [[]]
    for happening in _happenings(case, slot):
        if happening.entry.kind is EntryKind.READING:
            readings[-1].append(happening)
            continue
        if groups and happening.at - groups[-1][-1].at <= near:
            # Still at it: what was read between these turns says nothing about the neck by itself.
            readings[-1] = []
        else:
            groups.append([])
            readings.append([])
        groups[-1].append(happening)
    kept = (_last_of_each_day(case, slot, part, number) for number, part in enumerate(readings))
    return OverTime(
        slot, tuple(read for part in kept for read in part), tuple(_step(case, group) for group in groups)
    )


def _happenings(case: Case, slot: Slot) -> list[_Happening]:
    """Valid readings of the slot and turns that move it; a correction stands where its original stood."""
    found = []
    for journal in case.journals:
        for entry in journal.live:
            stands = journal.stands_for(entry)
            read = entry.kind is EntryKind.READING and entry.slot == slot.key and entry.value is not None
            if read or (entry.kind is EntryKind.ADJUSTMENT and entry.turn.moves(slot)):
                found.append((stands.at, stands.id, _Happening(stands.at, entry)))
    return [happening for _, _, happening in sorted(found, key=lambda one: one[:2])]


def _last_of_each_day(case: Case, slot: Slot, some: Sequence[_Happening], steps: int) -> tuple[Read, ...]:
    days = {happening.at.date(): happening for happening in some}
    return tuple(_read(case, slot, happening, steps) for happening in days.values())


def _read(case: Case, slot: Slot, happening: _Happening, steps: int) -> Read:
    entry, belief = happening.entry, case.belief
    standard, seen = READ_CHECKS[slot.check].standard(belief, slot, entry), belief.standard(slot, entry)
    return Read(entry, happening.at, standard, seen, steps)


def _step(case: Case, group: Sequence[_Happening]) -> Stepped:
    words = dict.fromkeys(turned_words(case, happening.entry) for happening in group)
    return Stepped(tuple((happening.at, happening.entry.turn) for happening in group), tuple(words))


# Common ways of wood, no source: mm of relief for a percent of moisture, and mm of creep in a year.
SLOPE_MM, CREEP_MM = 0.04, 0.03
# What work that counts no turns may have done, mm.
WORKED_MM = 1.0
# No size is known better than this: a step that turned nothing is still a step.
LEAST_MM = 1e-4


def drift_data(case: Case, found: OverTime) -> DriftData:
    """What was read, and how far each reading had been moved by hand when it was taken."""
    reading = case.trade.belief.reading
    slips = Slips(reading.slip, reading.slip_mm)
    seen = tuple(read.seen for read in found.readings)
    moved = [_moved(case, found, read.at, read.steps_before) for read in found.readings]
    now = _moved(case, found, case.now, len(found.steps))
    return DriftData(
        days=np.array([day_number(read.at) for read in found.readings]),
        seen=seen,
        elsewhere=np.array([slips.elsewhere(one) for one in seen]),
        moved=np.array(moved).reshape(len(moved), len(now)),
        moved_now=np.array(now),
        sizes=_sizes(case, found),
        before=_before(case, found.slot),
    )


def _before(case: Case, slot: Slot) -> Before:
    """What is believed of any such instrument; a height moves with the relief."""
    neck, scatter = case.frame.neck(), case.trade.practice.season.day_scatter_mm
    at_first = neck.mixture.moments(neck.row(case.belief.neck_column(slot)))
    is_relief = slot == RELIEF
    along = 1.0 if is_relief else neck.mixture.moments(neck.row(KAPPA))[0]
    scatter_mm = scatter.relief if is_relief else hypot(along * scatter.relief, scatter.height)
    return Before(at_first, along * SLOPE_MM, along * CREEP_MM, scatter_mm, case.trade.belief.reading.slip)


def _sizes(case: Case, found: OverTime) -> Floats:
    """Mean and standard deviation of what an eighth of the rod does, of the height screws' pitch, and of each
    step's surprise, mm."""
    neck = case.belief.neck
    rod, rod_sd = neck.mixture.moments(neck.row(RESPONSE))
    if found.slot != RELIEF:
        kappa, kappa_sd = neck.mixture.moments(neck.row(KAPPA))
        rod, rod_sd = kappa * rod, hypot(kappa * rod_sd, rod * kappa_sd)
    pitch, pitch_sd = neck.mixture.moments(neck.row(PITCH))
    shared = [(rod, rod_sd), (pitch, pitch_sd)]
    steps = [(0.0, _surprise_mm(case, found.slot, step, rod, pitch)) for step in found.steps]
    return np.asarray(np.maximum(np.array([*shared, *steps]), [-np.inf, LEAST_MM]))


def _surprise_mm(case: Case, slot: Slot, step: Stepped, rod_mm: float, pitch_mm: float) -> float:
    """How far a step may have gone otherwise than its turns say, one standard deviation."""
    priors = case.trade.belief
    rod = sum(turn.eighths for _, turn in step.turns if turn.part is Part.ROD) * rod_mm
    screw = sum(_travel(case, slot, turn) for _, turn in step.turns) * pitch_mm
    # One turn in so many goes the wrong way round: twice as far off as it went.
    wrong = 4 * priors.hand.wrong_way
    parts = [
        (priors.rod.move_share**2 + wrong) * rod**2,
        (priors.hand.felt_share**2 + wrong) * screw**2,
        *(_worked(case, slot, turn, rod_mm) ** 2 for _, turn in step.turns),
    ]
    return float(sum(parts) ** 0.5)


def _worked(case: Case, slot: Slot, turn: Turn, rod_mm: float) -> float:
    """What a turn moves beside what its eighths say, mm."""
    between, rod = case.trade.belief.between, case.trade.belief.rod
    if turn.part is Part.STRINGS:
        kappa = case.trade.belief.kappa[case.family].mean
        is_relief = slot == RELIEF
        return (
            between.strings_relief_mm
            if is_relief
            else hypot(kappa * between.strings_relief_mm, between.strings_height_mm)
        )
    if turn.part is Part.SPRINGS:
        return between.setup_height_mm
    if turn.part is Part.NUT:
        return between.strings_height_mm
    if not turn.eighths:
        return WORKED_MM
    if turn.part is not Part.ROD:
        return 0.0
    play = np.array(rod.play_eighths)
    return hypot(rod.move_mm, rod_mm * float(np.sqrt(np.average(play**2, weights=rod.play_shares))))


def _moved(case: Case, found: OverTime, at: datetime, steps_made: int) -> list[float]:
    """How much of each size had been applied at a time: rod in eighths, screw in turns, whole steps."""
    creep = case.trade.belief.rod
    rod = screw = 0.0
    for when, turn in (one for step in found.steps[:steps_made] for one in step.turns):
        if turn.part is Part.ROD:
            hours = (at - when).total_seconds() / 3600
            rod -= turn.eighths * (1 - creep.creep_share * exp(-max(hours, 0.0) / creep.creep_hours))
        screw += _travel(case, found.slot, turn)
    return [rod, screw, *(1.0 if n < steps_made else 0.0 for n in range(len(found.steps)))]


def _travel(case: Case, slot: Slot, turn: Turn) -> float:
    """Height that a turn of the height screws gains for each mm of their pitch."""
    if turn.part is not Part.SADDLE_HEIGHT or slot.string is None:
        return 0.0
    gains = case.frame.height_gains(turn.string, turn.side)
    return turn.eighths / 8 * float(gains[case.spec.index_of(slot.string)])
