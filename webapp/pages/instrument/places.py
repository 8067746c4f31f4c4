"""An instrument's places: where each check is on the portrait, its value in short, and how it has moved."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from math import isfinite

from webapp.drawings.bands.strip import Read, Value, short
from webapp.drawings.marks import REPAIRER
from webapp.drawings.over_time.sparkline import Moved
from webapp.drawings.portrait.instrument_map import MapPlace
from webapp.drawings.portrait.portrait import PlaceMark
from webapp.drawings.units import CENTS, Units, fine
from webapp.pages.setup.pictures import as_read, now_of, place_of, units_of
from webapp.pages.visit.addresses import check_path
from webapp.setups.case import Case
from webapp.setups.past.history import stands
from webapp.setups.say import capital
from webapp.setups.seasons.due import strings_due_at
from webapp.setups.slots import RELIEF, Slot, outer_heights, pickup_label, string_label
from webapp.setups.states import NEEDIEST, Assessment, CheckState, SlotState, Word, said
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Check, label

UNMARKED = (Word.GOOD, Word.EXPECTED, Word.NOT_MEASURED, Word.NOT_HERE, Word.NOT_TAUGHT)
# Older readings than so many make a line a thumb's width long no clearer.
MOST_READ = 40


def place_marks(spec: InstrumentSpec, found: Assessment, doing: Check | None = None) -> tuple[PlaceMark, ...]:
    """The marks of what is not well, each at its place, and of the check that a setup is at."""
    handed = {item.check for item in found.repairer}
    marks = []
    for check, state in found.checks.items():
        place, name = place_of(spec, check), capital(label(check))
        if not place or not state.here:
            continue
        if check in handed:
            marks.append(PlaceMark(place, REPAIRER, f"{name}: {REPAIRER}"))
        elif state.word not in UNMARKED:
            marks.append(PlaceMark(place, state.word, f"{name}: {state.said}"))
        elif check is doing:
            marks.append(PlaceMark(place, Word.NOT_MEASURED, f"{name}: next"))
    return tuple(marks)


def map_places(case: Case, found: Assessment, setup_id: str, home: str) -> tuple[MapPlace, ...]:
    """A box for the strings and for each check that has a place; the checks lead into that setup."""
    boxes = []
    for check, state in found.checks.items():
        place, leads = place_of(case.spec, check), check_path(setup_id, check)
        if check.is_preparation:
            stopped = MapPlace(place, "Strings", "", state.word, leads, state.said)
            boxes.append(stopped if state.word.is_off else _strings(case, home))
        elif place and state.here:
            value = value_of(case, state)
            shorter = {Word.CANNOT_TELL: "cannot tell"} | (
                {Word.NOT_MEASURED: "not all read"} if value else {}
            )
            verdict = shorter.get(state.word, state.said)
            boxes.append(MapPlace(place, check.short, value, state.word, leads, verdict))
    return tuple(boxes)


def _strings(case: Case, home: str) -> MapPlace:
    """How old the strings are, where anything was ever said about that."""
    due, href = strings_due_at(case), f"{home}/strings"
    if due is None:
        return MapPlace("strings", "Strings", "", Word.NOT_MEASURED, href, "age not known")
    born = due - timedelta(days=case.trade.due.string_days[case.family])
    word, verdict = (Word.TOUCH_HIGH, "old") if due <= case.now else (Word.GOOD, "good")
    # What is judged by the minute is judged a moment before an answer that was given in it.
    days = round((case.now - born) / timedelta(days=1))
    return MapPlace("strings", "Strings", _age(days), word, href, verdict)


def _age(days: int) -> str:
    if days < 14:
        return "new" if days < 2 else f"{days} days old"
    return f"{round(days / 7)} weeks old" if days < 60 else f"{round(days / 30.44)} months old"


def value_of(case: Case, check: CheckState) -> str:
    """'0.60 mm', '2.00–2.50 mm'; where one of several is off, that one's: 'A 0.08 mm'."""
    read = [(state, now) for state in check.slots if (now := now_of(case, state)) is not None]
    if not read:
        return ""
    units = fine(units_of(case, read[0][0].slot), read[0][0].bands.target.high)
    off = [one for one in read if one[0].verdict.word is check.word and check.word not in UNMARKED]
    if off and len(read) > 1:
        state, now = off[0]
        return f"{_short_name(case.spec, state.slot)} {units.with_unit(short(now, units))}"
    return _span([now for _, now in read], units)


def _span(read: list[Read], units: Units) -> str:
    """From the least to the most; of tuning errors the largest, either way."""
    if len(read) == 1:
        return units.with_unit(short(read[0], units))
    values = [v for one in read for v in _middles(one)]
    if not values:
        return ""
    if units is CENTS:
        return units.with_unit(f"±{units.number(max(map(abs, values))).lstrip('+')}")
    low, high = units.number(min(values)), units.number(max(values))
    return f"{low if low == high else f'{low}–{high}'} {units.label}"


def _middles(read: Read) -> tuple[float, ...]:
    if isinstance(read, Value):
        return (read.value,)
    return tuple(end for end in read.ends if isfinite(end))


def _short_name(spec: InstrumentSpec, slot: Slot) -> str:
    if slot.string is not None:
        return string_label(spec, slot.string).replace(" string", "")
    if slot.pickup is not None:
        return pickup_label(spec, slot.pickup).removesuffix(" pickup")
    return "Bridge" if slot.level else ""


def moved_rows(case: Case, found: Assessment, home: str) -> tuple[Moved, ...]:
    """The relief, the outer heights, and of every other check what most needs a hand, where it was read
    twice or more."""
    return tuple(
        Moved(
            name=_name(case.spec, state.slot),
            units=units_of(case, state.slot),
            target=(state.bands.target.low, state.bands.target.high),
            readings=readings,
            word=stands(state).word,
            said=said(state.slot.check, stands(state).word),
            href=f"{home}/history/{state.slot.key}",
        )
        for state in _followed(case, found)
        if len(readings := _readings(case, state)) > 1
    )


def _followed(case: Case, found: Assessment) -> Iterator[SlotState]:
    yield found.slot(RELIEF.key)
    yield from (found.slot(slot.key) for slot in outer_heights(case.spec))
    for check in found.checks.values():
        if any(state.slot.over_neck for state in check.slots):
            continue
        states = [s for s in check.slots if len(case.journal.readings(s.slot.key)) > 1]
        yield from sorted(states, key=lambda s: NEEDIEST.index(stands(s).word))[:1]


def _readings(case: Case, state: SlotState) -> tuple[tuple[datetime, Read], ...]:
    journal = case.journal
    newest = journal.readings(state.slot.key)[-MOST_READ:]
    read = ((journal.stands_for(e).at, as_read(case, state.slot, e)) for e in newest if e.value is not None)
    return tuple((at, one) for at, one in read if one is not None)


def _name(spec: InstrumentSpec, slot: Slot) -> str:
    """'Relief', 'Height, E', 'Nut, A', 'Intonation, D'."""
    if slot == RELIEF:
        return "Relief"
    name = slot.check.short.removesuffix("s")
    side = f" {slot.side.value}" if slot.side else ""
    return f"{name}, {_short_name(spec, slot).lower() if slot.pickup else _short_name(spec, slot)}{side}"
