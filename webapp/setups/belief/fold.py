"""All entries of an instrument, in order, folded into one belief: the one rule that everything else reads
from."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from math import hypot
from threading import Lock

import numpy as np

from webapp.physics.mixture import Floats, Seen
from webapp.setups.belief.frame import Frame
from webapp.setups.belief.neck import HEIGHTS, RELIEF, NeckBelief
from webapp.setups.belief.places import PlacesBelief
from webapp.setups.belief.reading import Slips, agree, seen_of
from webapp.setups.geometry import (
    STANDARD_HEIGHT,
    height_between,
    height_way,
    neck_with_relief,
    relief_factor,
    relief_way,
)
from webapp.setups.journal import COMPARED, START_PLACE, WILL_NOT_MOVE, Entry, EntryKind, Journal, Part
from webapp.setups.slots import NoSuchSlot, Slot, all_slots, parse_slot
from webapp.trade.words import Check

# A second answer to the start questions within so many hours belongs to the same setup.
SAME_SITTING_HOURS = 1.0
# More room or less is felt from about so much on, mm, and so unsurely.
FELT = {"more": (0.03, None), "same": (-0.03, 0.03), "less": (None, -0.03)}
FELT_SIGMA_MM = 0.03


@dataclass(frozen=True, eq=False)
class Belief:
    """What is known of one instrument at one moment.

    `doubted` holds readings that are probably slips, by slot, until a second one agrees with them or with the
    belief; `unread` is how far a place was moved by its own screw since it was last read (its own unit);
    `moved` the slots that anything was turned under since they were read; `read` those ever read.
    """

    frame: Frame
    neck: NeckBelief
    tuning: PlacesBelief
    pickups: PlacesBelief
    nut: PlacesBelief
    level: PlacesBelief
    at: datetime | None = None
    doubted: Mapping[str, Seen] = field(default_factory=dict)
    unread: Mapping[str, float] = field(default_factory=dict)
    moved: Mapping[str, Entry] = field(default_factory=dict)
    read: frozenset[str] = frozenset()

    @classmethod
    def first(cls, frame: Frame) -> Belief:
        """Before anything was told."""
        first = frame.worked.get("first")
        if first is None:
            first = cls(frame, frame.neck(), frame.tuning(), frame.pickups(), frame.nut(), frame.level())
            frame.worked["first"] = first
        return first

    @property
    def relief_mm(self) -> float:
        """The relief, the family's standard way."""
        return self.neck.mixture.moments(self.neck.relief_row)[0]

    def later(self, now: datetime) -> Belief:
        """The same belief when nothing but time has passed."""
        if self.at is None or now <= self.at:
            return self
        hours = (now - self.at).total_seconds() / 3600
        return replace(self, neck=self.neck.waited(hours), at=now)

    def after(self, entry: Entry, at: datetime) -> Belief:
        """The belief with one more entry, made at `at` (UTC): for a mended slip, when the slip was made."""
        belief = replace(self.later(at), at=at)
        if entry.kind is EntryKind.READING and entry.value is not None:
            return belief._read(entry)
        if entry.kind is EntryKind.ADJUSTMENT:
            return belief._turned(entry)
        if entry.kind is EntryKind.OBSERVATION:
            return belief._told(at - self.at if self.at else timedelta(0), entry)
        return belief

    def _told(self, since: timedelta, entry: Entry) -> Belief:
        if entry.slot == START_PLACE:
            hours = since.total_seconds() / 3600
            return self._new_setup() if hours >= SAME_SITTING_HOURS else self
        if entry.slot == "relief" and entry.detail.get("answer") == WILL_NOT_MOVE:
            return replace(self, neck=self.neck.will_not_turn())
        return self

    def _new_setup(self) -> Belief:
        """Between setups somebody may have moved anything a little; what was learnt stays."""
        between = self.frame.priors.between
        neck = self.neck.loosened(between.setup_relief_mm**2, between.setup_height_mm**2)
        nothing = [np.zeros(p.mixture.means.shape[1] - 1) for p in (self.tuning, self.pickups, self.nut)]
        return replace(
            self,
            neck=neck,
            tuning=self.tuning.shifted(nothing[0], nothing[0] + between.setup_cents**2),
            pickups=self.pickups.shifted(nothing[1], nothing[1] + between.setup_pickup_mm**2),
            nut=self.nut.shifted(nothing[2], nothing[2] + between.strings_nut_mm**2),
            doubted={},
        )

    # Readings

    def _read(self, entry: Entry) -> Belief:
        try:
            slot = parse_slot(entry.slot, self.frame.spec)
        except NoSuchSlot:
            return self
        seen = self.standard(slot, entry)
        belief = self._compared(entry) if entry.check is Check.RELIEF else self
        trusted, slipped = belief._observed(slot, entry, seen, self._slips(slot))
        doubted = {key: one for key, one in self.doubted.items() if key != slot.key}
        again: dict[str, Entry] = {}
        if slipped > 0.5:
            earlier = self.doubted.get(slot.key)
            if earlier is not None and agree(earlier, seen, self.frame.priors.reading.agree):
                trusted = belief._believed(slot, entry, (earlier, seen))
                if slot.high and f"intonation.{slot.string}.12" in self.read:
                    again[f"intonation.{slot.string}.12"] = entry
            else:
                doubted[slot.key] = seen
        unread = {key: far for key, far in self.unread.items() if key != slot.key}
        moved = {key: by for key, by in self.moved.items() if key != slot.key}
        return replace(
            trusted,
            doubted=doubted,
            unread=unread,
            moved=moved | again,
            read=self.read | {slot.key},
        )

    def standard(self, slot: Slot, entry: Entry) -> Seen:
        """A reading said the way the belief is kept: relief the family's way, heights at 12 held at 1."""
        seen, frame = seen_of(self.frame.trade, entry), self.frame
        if slot.check is Check.RELIEF:
            taken = relief_way(entry, frame.relief_standard)
            return seen.scaled(relief_factor(frame.spec, taken, frame.relief_standard))
        if not slot.over_neck or height_way(entry) == STANDARD_HEIGHT:
            return seen
        assert slot.string is not None
        way, number = height_way(entry), slot.string
        frets = frame.relief_standard
        bow = neck_with_relief(frame.spec, self.relief_mm, frets.hold, frets.press, frets.gap)
        nut, unsure = self.nut.mixture.moments(self.nut.row({frame.spec.index_of(number): 1.0}))
        at_zero, at_one, at_more = (
            height_between(frame.spec, number, v, way, STANDARD_HEIGHT, bow.curvature_per_mm, gap)
            for v, gap in ((0.0, nut), (1.0, nut), (0.0, nut + unsure))
        )
        scaled = seen.scaled(at_one - at_zero)
        # Read open, what is not known of the nut is not known of the height either.
        sigma = hypot(scaled.sigma, at_more - at_zero)
        return Seen(scaled.low + at_zero, scaled.high + at_zero, sigma, scaled.step)

    def _slips(self, slot: Slot) -> Slips:
        reading = self.frame.priors.reading
        return Slips(reading.slip, reading.slip_cents if slot.is_cents else reading.slip_mm)

    def _observed(self, slot: Slot, entry: Entry, seen: Seen, slips: Slips) -> tuple[Belief, float]:
        chance, elsewhere = slips.chance, slips.elsewhere(seen)
        if slot.over_neck:
            neck, slipped = self.neck.observed(self.neck_column(slot), seen, chance, elsewhere)
            return replace(self, neck=neck), slipped
        fret = int(entry.detail.get("fret", 12))
        row = self.place_row(slot, fret)
        places, slipped = self.places(slot).observed(row, seen, chance, elsewhere)
        return self._with(slot, places), slipped

    def _believed(self, slot: Slot, entry: Entry, both: Sequence[Seen]) -> Belief:
        """Two readings that agree are believed, whatever was believed before."""
        belief, first = self._freed(slot), Slips(1e-3, self._slips(slot).width)
        for seen in both:
            belief, _ = belief._observed(slot, entry, seen, first)
        return belief

    def _freed(self, slot: Slot, mean: float | None = None) -> Belief:
        """One place believed anew, around what was believed or around `mean`."""
        before = self.frame.priors.before
        if slot.check is Check.RELIEF:
            return replace(self, neck=self.neck.freed(RELIEF, before.relief_mm, mean))
        if slot.over_neck:
            return replace(self, neck=self.neck.freed(self.neck_column(slot), before.height_all_mm, mean))
        places = self.places(slot)
        if slot.high:
            # The octave's own reading was the slip: the high fret says where the string stands.
            index = self.frame.spec.index_of(slot.string or 1)
            stretch, worn = self.frame.worn_cents
            places = places.freed(index, before.cents).freed(self._index(slot), worn, stretch)
            return self._with(slot, places)
        sd = {Check.NUT: before.nut_mm, Check.HEIGHT: before.level_mm, Check.PICKUPS: before.pickup_mm}.get(
            slot.check, before.cents
        )
        return self._with(slot, places.freed(self._index(slot), sd, mean))

    def _compared(self, entry: Entry) -> Belief:
        """More room or less than before the last turn, where only a card or an ear is at hand."""
        felt = FELT.get(str(entry.detail.get(COMPARED)))
        if felt is None:
            return self
        low, high = felt
        seen = Seen(-np.inf if low is None else low, np.inf if high is None else high, FELT_SIGMA_MM)
        return replace(self, neck=self.neck.compared(seen, self.frame.priors.reading.slip, 1 / 3))

    # Turns

    def _turned(self, entry: Entry) -> Belief:
        turn, spec = entry.turn, self.frame.spec
        if (turn.string or 0) > spec.string_count or (turn.pickup or 0) > len(spec.pickups):
            return self  # described anew with fewer strings or pickups since
        belief = self
        if turn.part is Part.STRINGS:
            belief = belief._restrung()
        elif not turn.eighths:
            belief = belief._worked_on(entry)
        elif turn.part is Part.SPRINGS:
            heights = belief.neck.loosened(0.0, self.frame.priors.between.setup_height_mm**2)
            belief = replace(belief, level=belief.level.turned(turn.eighths, np.array([-1.0])), neck=heights)
        elif turn.part is Part.ROD:
            belief = belief._passed_on(replace(belief, neck=belief.neck.rod_turned(turn.eighths)))
        elif turn.part is Part.SADDLE_HEIGHT:
            gains = self.frame.height_gains(turn.string, turn.side)
            belief = belief._passed_on(
                replace(belief, neck=belief.neck.saddles_turned(turn.eighths, gains)), gains
            )
        elif turn.part is Part.SADDLE_POSITION and turn.string is not None:
            moved = np.zeros(2 * spec.string_count)
            index = spec.index_of(turn.string)
            moved[index] = self.frame.tuning_gains[index]
            belief = replace(belief, tuning=belief.tuning.turned(turn.eighths, moved))
        elif turn.part is Part.PICKUP_HEIGHT and turn.pickup is not None:
            lowered = np.zeros(2 * len(spec.pickups))
            sides = (turn.side,) if turn.side else ("bass", "treble")
            for side in sides:
                lowered[2 * (turn.pickup - 1) + (1 if side == "treble" else 0)] = -1.0
            belief = replace(belief, pickups=belief.pickups.turned(turn.eighths, lowered))
        return belief._marked(self, entry)

    def _passed_on(self, after: Belief, gains: Floats | None = None) -> Belief:
        """What a change of heights does to the tuning and the pickups."""
        passing, frame = self.frame.priors.passing, self.frame
        rows = [after.neck.height_row(i) for i in range(frame.spec.string_count)]
        then = [after.neck.mixture.moments(row) for row in rows]
        before = [self.neck.mixture.moments(row) for row in rows]
        change = np.array([one[0] - other[0] for one, other in zip(then, before, strict=True)])
        unsure = np.array([abs(one[1] ** 2 - other[1] ** 2) for one, other in zip(then, before, strict=True)])
        nothing = np.zeros(len(rows))
        cents = passing.height_cents * change
        spread = (passing.height_cents_spread * change) ** 2 + passing.height_cents**2 * unsure
        tuning = self.tuning.shifted(np.concatenate((cents, nothing)), np.concatenate((spread, nothing)))
        pickups = self.pickups
        if gains is not None and frame.spec.pickups:
            travel = (change * frame.per_action)[[0, -1]]
            sides = np.tile(passing.pickup_share * travel, len(frame.spec.pickups))
            noise = np.tile((passing.pickup_share_spread * travel) ** 2, len(frame.spec.pickups))
            pickups = pickups.shifted(sides, noise)
        return replace(after, tuning=tuning, pickups=pickups)

    def _restrung(self) -> Belief:
        """New strings, or another tuning: what hangs on the strings is believed anew; the screws' threads
        stay."""
        between, frame = self.frame.priors.between, self.frame
        neck = self.neck.loosened(between.strings_relief_mm**2, between.strings_height_mm**2)
        tuning, before = self.tuning, frame.priors.before
        count = frame.spec.string_count
        for index in range(2 * count):
            mean, sd = (0.0, before.cents) if index < count else frame.worn_cents
            tuning = tuning.freed(index, sd, mean)
        still = np.zeros(count)
        nut = self.nut.shifted(still, still + between.strings_nut_mm**2)
        gaps = np.zeros(2 * len(frame.spec.pickups))
        pickups = self.pickups.shifted(gaps, gaps + between.strings_height_mm**2)
        return replace(self, neck=neck, tuning=tuning, nut=nut, pickups=pickups, doubted={})

    def _worked_on(self, entry: Entry) -> Belief:
        """Something done without a count of turns, by the player or a repairer: the place may be anywhere."""
        belief, turn, first = self, entry.turn, Belief.first(self.frame)
        for slot in all_slots(self.frame.spec):
            if slot.check in turn.part.frees and turn.moves(slot):
                belief = belief._freed(slot, first.mean(slot))
        return belief

    def _marked(self, before: Belief, entry: Entry) -> Belief:
        """Which places this turn moved, and how far it meant to move its own."""
        turn, moved, unread = entry.turn, dict(self.moved), dict(self.unread)
        for slot in all_slots(self.frame.spec):
            if not turn.moves(slot):
                continue
            if slot.key in self.read:
                moved.setdefault(slot.key, entry)
            if turn.own(slot):
                far = self.mean(slot) - before.mean(slot)
                unread[slot.key] = unread.get(slot.key, 0.0) + far
        doubted = {} if turn.part is Part.STRINGS else self._still_doubted(entry)
        return replace(self, moved=moved, unread=unread, doubted=doubted)

    def _still_doubted(self, entry: Entry) -> dict[str, Seen]:
        spec = self.frame.spec
        return {
            key: seen for key, seen in self.doubted.items() if not entry.turn.moves(parse_slot(key, spec))
        }

    # Where a slot stands

    def neck_column(self, slot: Slot) -> int:
        """The unknown of the neck's belief that a relief or height slot reads."""
        if slot.check is Check.RELIEF:
            return RELIEF
        assert slot.string is not None
        return HEIGHTS + self.frame.spec.index_of(slot.string)

    def _index(self, slot: Slot) -> int:
        if slot.level:
            return 0
        if slot.check is Check.PICKUPS:
            return self.frame.pickup_index(slot)
        assert slot.string is not None
        return self.frame.spec.index_of(slot.string) + (self.frame.spec.string_count if slot.high else 0)

    def places(self, slot: Slot) -> PlacesBelief:
        """The belief that a nut, intonation, pickup or level slot is part of."""
        if slot.level:
            return self.level
        if slot.check is Check.NUT:
            return self.nut
        return self.tuning if slot.is_cents else self.pickups

    def _with(self, slot: Slot, places: PlacesBelief) -> Belief:
        """With another belief of the kind that this slot is part of."""
        if slot.level:
            return replace(self, level=places)
        if slot.check is Check.NUT:
            return replace(self, nut=places)
        if slot.is_cents:
            return replace(self, tuning=places)
        return replace(self, pickups=places)

    def place_row(self, slot: Slot, fret: int = 12) -> Floats:
        """How a slot's value adds up from the unknowns of its belief."""
        if slot.is_cents:
            return self.tuning.row(self.frame.tuning_row(slot, fret))
        return self.places(slot).row({self._index(slot): 1.0})

    def mean(self, slot: Slot, fret: int = 12) -> float:
        """What is believed of a slot's value: mm the standard way, or cents."""
        if slot.over_neck:
            return float(self.neck.mixture.weights @ self.neck.mixture.means[:, self.neck_column(slot)])
        return self.places(slot).mixture.moments(self.place_row(slot, fret))[0]


# The newest beliefs by the entries that made them: one more entry then costs one more step.
Dated = tuple[Entry, datetime]
_FOLDED: OrderedDict[tuple[int, ...], tuple[Frame, Sequence[Dated], Belief]] = OrderedDict()
_LOCK = Lock()
# One of each instrument: more than a class has.
MOST_FOLDED = 256
# How many entries back a fold may go on from, and how many an instrument's past is cut to (in whole steps).
LOOK_BACK, WINDOW, STEP = 12, 600, 300


def belief_of(frame: Frame, journals: Sequence[Journal], now: datetime) -> Belief:
    """The belief at `now` (UTC) from every entry that counts, journal by journal, oldest first.

    Pure in what it answers; what was folded lately is kept by the very entries that it was made from.
    """
    entries = [(e, journal.stands_for(e).at) for journal in journals for e in journal.live]
    if len(entries) > WINDOW + STEP:
        entries = entries[(len(entries) - WINDOW) // STEP * STEP :]
    return _folded(frame, entries).later(now)


def _folded(frame: Frame, entries: list[Dated]) -> Belief:
    names = (id(frame), *(id(entry) for entry, _ in entries))
    belief, done, shorter = Belief.first(frame), 0, names
    with _LOCK:
        for length in range(len(names), max(0, len(names) - LOOK_BACK), -1):
            kept = _FOLDED.get(names[:length])
            if kept is not None:
                _FOLDED.move_to_end(names[:length])
                belief, done, shorter = kept[2], length - 1, names[:length]
                break
    if done == len(entries) and entries:
        return belief
    for entry, at in entries[done:]:
        belief = belief.after(entry, at)
    with _LOCK:
        # Nobody asks for the shorter one again, unless the newest entry is taken back.
        _FOLDED.pop(shorter, None)
        # The entries are kept too, so that no other can take their names.
        _FOLDED[names] = (frame, tuple(entries), belief)
        while len(_FOLDED) > MOST_FOLDED:
            _FOLDED.popitem(last=False)
    return belief
