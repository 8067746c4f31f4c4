"""Deciding about places: turn as said, or otherwise, or keep it so; and what a repairer did."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import takewhile
from math import isfinite

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.shapes import Drawing
from webapp.pages.setup.pictures import is_range, pictures_of
from webapp.pages.setup.reading_help import Flash, across, check_name, flash, value_words
from webapp.pages.setup.readings import find_slot
from webapp.pages.setup.turn_form import (
    BY_REPAIRER,
    OUTCOMES,
    Names,
    Ways,
    repairer_entry,
    said_on_page,
    turn_entry,
    turned_as_typed,
    ways_to_turn,
)
from webapp.pages.visit.addresses import adjust_path, is_several, read_path
from webapp.pages.visit.answering import answer, onward, recorded, seen_of
from webapp.pages.visit.case_loading import LoadedSetup, load_setup
from webapp.pages.visit.forms import FormReader, Posted, form_id_of
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.setups.checks import READ_CHECKS
from webapp.setups.dates import clock, day
from webapp.setups.description import assumed_of
from webapp.setups.geometry import STANDARD_HEIGHT
from webapp.setups.journal import KEPT, WAY, Entry, EntryKind, Turn
from webapp.setups.say import Say
from webapp.setups.slots import Slot, slots_of
from webapp.setups.states import Act, SlotState
from webapp.trade.words import Check

router = APIRouter()

NOTHING_TO_TURN = "There is nothing to turn here at the moment. Look at the newest reading first."
# Nearer than any tool tells, mm or cents.
SEEN_ALIKE = 1e-6
CHANGED = "What is to be turned here has changed since this page was shown. Look at it again, please."


@dataclass(frozen=True)
class Decided:
    """One place as it stands, and what is to be turned there; `do` is what only this place needs."""

    state: SlotState
    value: str
    pictures: tuple[Drawing, ...]
    do: tuple[str, ...]
    expected: str
    origin: tuple[str, ...]
    assumed: str
    names: Names
    ways: Ways | None
    outcomes: tuple[tuple[str, str], ...]
    ranged: bool
    for_repairer: bool


@dataclass(frozen=True)
class AdjustPage:
    """Everything a deciding page shows. `before` and `after` are lines that all its places share.

    `place` is the slot or the check that its address names.
    """

    setup: LoadedSetup
    place: str
    single: bool
    heading: str
    places: tuple[Decided, ...]
    before: tuple[str, ...]
    after: tuple[str, ...]
    then: tuple[str, ...]
    cautions: tuple[str, ...]
    cautions_seen: bool
    done_words: str
    flash: Flash | None
    form: FormReader
    form_id: str
    seen: int

    @property
    def action(self) -> str:
        return adjust_path(self.setup.id, self.place)

    @property
    def keys(self) -> str:
        """The slots of the places, for the form to carry."""
        return " ".join(place.state.slot.key for place in self.places)

    @property
    def only(self) -> Decided:
        return self.places[0]

    @property
    def turns(self) -> bool:
        return any(place.ways for place in self.places)

    @property
    def check(self) -> Check:
        return self.only.state.slot.check

    @property
    def read_path(self) -> str:
        return read_path(self.setup.id, self.place)

    @property
    def by_repairer(self) -> str:
        return BY_REPAIRER


@router.get("/setups/{setup_id}/adjust/{slot_key}")
def show(setup_id: str, slot_key: str, visit: Visiting, after: str = "") -> Response:
    setup = load_setup(visit, setup_id)
    slots = _slots(setup, slot_key, "")
    if not slots:
        return see(onward(setup))
    if not is_several(slot_key) and _is_unknown(setup.assessment.slot(slot_key)):
        return see(read_path(setup_id, slot_key))
    page = build(visit, setup, slot_key, slots, FormReader({}), after)
    return visit.render("pages/setup/adjust.html", page)


@router.post("/setups/{setup_id}/adjust/{slot_key}")
def send(
    setup_id: str,
    slot_key: str,
    visit: Visiting,
    form: Posted,
) -> Response:
    setup = load_setup(visit, setup_id)
    slots = _slots(setup, slot_key, form.raw("rows"))
    if not slots:
        return see(onward(setup))

    def keep(entries: list[Entry]) -> Response:
        done = recorded(visit, setup, form, list(dict.fromkeys(entry.slot for entry in entries)), entries)
        # What else was on the list is done first: it was decided together.
        left = is_several(slot_key) and _waiting(done, Check(slot_key))
        return see(adjust_path(setup_id, slot_key) if left else onward(done))

    def shown(status: int) -> Response:
        page = build(visit, load_setup(visit, setup_id), slot_key, slots, form)
        return visit.render("pages/setup/adjust.html", page, status)

    return answer(form, _read(setup, slots, not is_several(slot_key), form), keep, shown)


def _is_unknown(state: SlotState) -> bool:
    """Whether there is nothing to say of a place before it is read."""
    return not state.measured and not (state.advice and state.advice.repairer)


def _slots(setup: LoadedSetup, place: str, typed: str) -> tuple[Slot, ...]:
    """The slots of a page: the one it names; of a check those that its form carries and that can be turned,
    else those that wait for a turn."""
    if not is_several(place):
        return (find_slot(setup, place),)
    wanted, check = set(typed.split()), Check(place)
    carried = tuple(slot for slot in slots_of(setup.spec, check) if slot.key in wanted)
    return across(carried or _waiting(setup, check))


def _waiting(setup: LoadedSetup, check: Check) -> tuple[Slot, ...]:
    """The places of a check that wait for a turn; one for both frets of a string."""
    states = setup.assessment.checks[check].slots
    turned: dict[Turn, Slot] = {}
    for state in states:
        if state.wants is Act.DECIDE and state.advice is not None and state.advice.turn is not None:
            turned.setdefault(state.advice.turn, state.slot)
    return tuple(turned.values())


# From the form to the journal


def _read(setup: LoadedSetup, slots: Sequence[Slot], single: bool, form: FormReader) -> list[Entry]:
    """What was done, in the order of the bench; faults stand beside the fields."""
    action, _, key = form.raw("action").partition(":")
    if action == "turn" and not key:
        order = slots_of(setup.spec, slots[0].check)
        return [e for s in sorted(slots, key=order.index) for e in _as_said(setup, s, single, form)]
    slot = slots[0] if single and not key else next((s for s in slots if s.key == key), None)
    if slot is not None and action in ("turn", "keep", "repairer", *OUTCOMES):
        return _one(setup, slot, single, action, form)
    form.fault("", "Choose what you did.")
    return []


def _as_said(setup: LoadedSetup, slot: Slot, single: bool, form: FormReader) -> list[Entry]:
    """The turn as it was said, or as it was chosen beside it."""
    advice, names = setup.assessment.slot(slot.key).advice, Names.of(slot, single)
    if advice is None or advice.turn is None:
        form.fault("", NOTHING_TO_TURN)
        return []
    said = said_on_page(setup.case, advice.turn, names, form)
    if said is None:
        form.fault("", CHANGED)
        return []
    eighths = turned_as_typed(setup.case, advice.turn, names, form, said)
    return [turn_entry(setup.case.say, slot, advice, eighths)] if eighths else []


def _one(setup: LoadedSetup, slot: Slot, single: bool, action: str, form: FormReader) -> list[Entry]:
    """What was told of one place by a button of its own."""
    advice, check = setup.assessment.slot(slot.key).advice, slot.check
    if action == "keep":
        return [Entry(EntryKind.OBSERVATION, check, slot.key, detail={"answer": KEPT})]
    if action == "repairer":
        if advice is not None and advice.repairer:
            return [repairer_entry(slot)]
    elif advice is not None and advice.turn is not None and action in ("turn", *advice.outcomes):
        names = Names.of(slot, single)
        eighths = turned_as_typed(setup.case, advice.turn, names, form, 0)
        turned = [turn_entry(setup.case.say, slot, advice, eighths)] if eighths else []
        if action != "turn":
            told = {"answer": action, WAY: 1 if advice.turn.eighths > 0 else -1}
            return [*turned, Entry(EntryKind.OBSERVATION, check, slot.key, detail=told)]
        if not turned and form.ok:
            form.fault(names.amount, "Choose how far you turned.")
        return turned
    form.fault("", NOTHING_TO_TURN)
    return []


# The page


def build(
    visit: Visit, setup: LoadedSetup, place: str, slots: Sequence[Slot], form: FormReader, after: str = ""
) -> AdjustPage:
    """The page's context."""
    states = [setup.assessment.slot(slot.key) for slot in slots]
    lines = [s.advice.do if s.advice else () for s in states]
    first, last = _shared(lines)
    single = not is_several(place)
    check = slots[0].check
    return AdjustPage(
        setup=setup,
        place=place,
        single=single,
        heading=READ_CHECKS[check].heading(setup.case, slots[0]) if len(slots) == 1 else check_name(check),
        places=tuple(
            _place(setup, state, do[len(first) : len(do) - len(last)], single, len(slots) == 1)
            for state, do in zip(states, lines, strict=True)
        ),
        before=first,
        after=last,
        then=tuple(dict.fromkeys(s.advice.then for s in states if s.advice and s.advice.then)),
        cautions=tuple(c.text for c in visit.trade.cautions_for(setup.spec, check.value)),
        cautions_seen=any(turn.turn.part.check is check for turn in setup.journal.turns),
        done_words=_done_words(states),
        flash=flash(setup, after) if after and (len(slots) > 1 or after != slots[0].key) else None,
        form=form,
        form_id=form_id_of(form),
        seen=form.show_with("seen", seen_of(setup.journal, *(slot.key for slot in slots))),
    )


def _shared(lines: Sequence[tuple[str, ...]]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The lines that all places begin with, and those that all end with; none of a single place."""
    if len(lines) < 2:
        return (), ()
    before = _alike(lines)
    rest = [line[len(before) :][::-1] for line in lines]
    return before, _alike(rest)[::-1]


def _alike(lines: Sequence[tuple[str, ...]]) -> tuple[str, ...]:
    same = takewhile(lambda some: len(set(some)) == 1, zip(*lines, strict=False))
    return tuple(some[0] for some in same)


def _done_words(states: Sequence[SlotState]) -> str:
    """'Done: a quarter turn'; for several 'Done as said'."""
    turns = [state.advice.turn for state in states if state.advice and state.advice.turn]
    return f"Done: {Say.turns(turns[0].eighths)}" if len(turns) == 1 else "Done as said"


def _place(setup: LoadedSetup, state: SlotState, do: tuple[str, ...], single: bool, alone: bool) -> Decided:
    advice = state.advice
    turn = advice.turn if advice else None
    return Decided(
        state=state,
        value=value_words(setup, state),
        pictures=tuple(pictures_of(setup.case, state, alone)),
        do=do,
        expected=_expected(setup, state),
        origin=tuple(_origin(setup, state)),
        assumed="; ".join(assumed_of(setup.spec, setup.case.trade, turn)) if turn else "",
        names=Names.of(state.slot, single),
        ways=ways_to_turn(setup.case, turn) if turn else None,
        outcomes=tuple((key, OUTCOMES[key]) for key in advice.outcomes) if advice and turn else (),
        ranged=is_range(state.reading),
        for_repairer=bool(advice and advice.repairer),
    )


def _origin(setup: LoadedSetup, state: SlotState) -> Iterator[str]:
    """What the numbers of a place rest on: its reading, what is believed, the bands, the forecast."""
    case, reading, bands = setup.case, state.reading, state.bands
    say = case.say
    if reading is not None and reading.value is not None:
        tool = case.trade.tools.get(reading.tool)
        by = f", {tool.name}" if tool else ""
        yield f"Read {say.reading(reading)}{by}, {day(reading.at)}, {clock(reading.at)}."
    standard = _standard(setup, state)
    if standard:
        yield standard
    band = say.cents_band if state.slot.is_cents else say.band
    yield (
        f"Target {band(bands.target.low, bands.target.high)}; "
        f"usual {band(bands.usual.low, bands.usual.high)}."
    )
    forecast = state.advice.forecast if state.advice else None
    if forecast is not None:
        about = (say.about_cents if state.slot.is_cents else say.about)(forecast.value, forecast.give)
        yield f"After the turn, expected {about}; that rests on {forecast.basis}."


def _expected(setup: LoadedSetup, state: SlotState) -> str:
    """What the next reading should show, bare; empty where nothing is to be turned."""
    forecast = state.advice.forecast if state.advice else None
    if forecast is None:
        return ""
    return (
        setup.case.say.cents(round(forecast.value))
        if state.slot.is_cents
        else setup.case.say.length(forecast.value)
    )


def _standard(setup: LoadedSetup, state: SlotState) -> str:
    """What is believed, said the way the bands are: where the place was read another way or as a range, or
    where all that was read and turned before says something else than this one reading."""
    case, reading = setup.case, state.reading
    if reading is None or reading.value is None or not state.measured:
        return ""
    seen = case.belief.standard(state.slot, reading)
    middle = (seen.low + seen.high) / 2
    alike = not isfinite(middle) or abs(middle - reading.value) < SEEN_ALIKE
    width = max(seen.high - seen.low, seen.step, 2 * seen.sigma)
    far = isfinite(middle) and abs(middle - state.value) > width
    if alike and not far and not is_range(reading):
        return ""
    about = (case.say.about_cents if state.slot.is_cents else case.say.about)(state.value, state.give)
    way = "" if state.slot.is_cents or not READ_CHECKS[state.slot.check].asks else _standard_way(setup, state)
    return f"By all that was read and turned: {about}{way}." if far else f"That is {about}{way}."


def _standard_way(setup: LoadedSetup, state: SlotState) -> str:
    relief = setup.case.relief_standard.text
    return f", {relief if state.slot.string is None else STANDARD_HEIGHT.text}"
