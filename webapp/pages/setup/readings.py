"""Reading places: where the gauge goes, a field for each, and the verdict on the last reading."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import APIRouter, HTTPException
from fastapi.responses import Response

from webapp.drawings.shapes import Drawing
from webapp.pages.setup.pictures import strip_typed
from webapp.pages.setup.reading_form import Ask, as_it_was_typed, ask_of, read_entries
from webapp.pages.setup.reading_help import (
    Flash,
    ReadingRow,
    across,
    answers_drawn,
    check_name,
    drawing_for,
    flash,
    grouped,
    lines_for,
    rows_for,
    value_words,
)
from webapp.pages.visit.addresses import adjust_path, is_several, listen_path, read_path, tools_path
from webapp.pages.visit.answering import answer, onward, recorded, seen_of
from webapp.pages.visit.case_loading import LoadedSetup, load_setup
from webapp.pages.visit.forms import FormReader, Posted, form_id_of
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.setups.journal import Entry, EntryKind
from webapp.setups.slots import NoSuchSlot, Slot, parse_slot, slots_of
from webapp.setups.states import Act, SlotState, Word
from webapp.trade.pages import CheckPage
from webapp.trade.words import Check

router = APIRouter()


@dataclass(frozen=True)
class Picture:
    """The part of a reading page that follows what is typed: the gap magnified, and one place's strip."""

    path: str
    drawing: Drawing | None
    scale: Drawing | None


@dataclass(frozen=True)
class ReadPage:
    """Everything a reading page shows. `place` is the slot or the check that its address names."""

    setup: LoadedSetup
    place: str
    ask: Ask
    states: tuple[SlotState, ...]
    rows: tuple[ReadingRow, ...]
    heading: str
    lines: tuple[str, str]
    picture: Picture
    answer_pictures: Mapping[str, Drawing]
    form: FormReader
    form_id: str
    seen: int
    guide: CheckPage
    flash: Flash | None
    corrects: Entry | None

    @property
    def action(self) -> str:
        return read_path(self.setup.id, self.place)

    @property
    def groups(self) -> tuple[tuple[str, tuple[ReadingRow, ...]], ...]:
        return grouped(self.rows)

    @property
    def keys(self) -> str:
        """The slots of the rows, for the form to carry."""
        return " ".join(row.slot.key for row in self.rows)

    @property
    def state(self) -> SlotState:
        """The one place of a page for one."""
        return self.states[0]

    @property
    def value(self) -> str:
        return value_words(self.setup, self.state) if self.ask.single else ""

    @property
    def doubted(self) -> tuple[tuple[SlotState, str], ...]:
        """The places that are read once more because the last reading fits nothing, with what it was."""
        again = (s for s in self.states if s.verdict.word is Word.MEASURE_AGAIN)
        return tuple((s, value_words(self.setup, s)) for s in again)

    def with_tool(self, method: str) -> str:
        """The same page, read with another tool."""
        return f"{self.action}?tool={method}"

    @property
    def listen_path(self) -> str:
        """Where the same is played to the phone; empty where it is no pitch."""
        slot = self.state.slot
        return listen_path(self.setup.id, f"{slot.check}.{slot.string}") if slot.is_cents else ""

    @property
    def tools_path(self) -> str:
        return tools_path(self.setup.id)

    @property
    def means_path(self) -> str:
        return adjust_path(self.setup.id, self.state.slot.key)


@router.get("/setups/{setup_id}/read/{slot_key}")
def show(
    setup_id: str,
    slot_key: str,
    visit: Visiting,
    tool: str = "",
    after: str = "",
    corrects: int = 0,
) -> Response:
    setup = load_setup(visit, setup_id)
    slots = slots_asked(setup, slot_key, "")
    old = _to_correct(setup, slots[0], corrects)
    data = as_it_was_typed(old) if old else {}
    if tool:
        data["tool"] = tool
    page = build(visit, setup, slot_key, slots, FormReader(data), after)
    return visit.render("pages/setup/read.html", page)


@router.get("/setups/{setup_id}/read/{slot_key}/picture")
def picture(setup_id: str, slot_key: str, visit: Visiting) -> Response:
    """The same page's picture with what is being typed in it; nothing (204) while that cannot be read."""
    setup, form = load_setup(visit, setup_id), FormReader(dict(visit.request.query_params))
    slot = find_slot(setup, slot_key)
    entries = read_entries(_ask(visit, setup, slot_key, (slot,), form), form)
    if not form.ok or not entries:
        return Response(status_code=204)
    page = _picture(setup, slot_key, _ask(visit, setup, slot_key, (slot,), form), entries[0])
    return visit.render("parts/setup/picture.html", page)


@router.post("/setups/{setup_id}/read/{slot_key}")
def send(
    setup_id: str,
    slot_key: str,
    visit: Visiting,
    form: Posted,
) -> Response:
    setup = load_setup(visit, setup_id)
    slots = slots_asked(setup, slot_key, form.raw("rows"))
    # What is chosen there is meant; a unit typed behind one number is not.
    visit.remember_unit(form.unit("value", visit.unit))
    ask = _ask(visit, setup, slot_key, slots, form)
    entries = read_entries(ask, form, _corrected(setup, slots[0], form) if ask.single else None)
    if form.ok and not entries:
        form.fault(ask.name(across(slots)[0]), "Type at least one reading.")

    def field(place: str) -> str:
        return ask.name(next((slot for slot in slots if slot.key == place), across(slots)[0]))

    def keep(entries: list[Entry]) -> Response:
        done = recorded(visit, setup, form, [entry.slot for entry in entries], entries, field)
        return see(onward(done, slot_key))

    def shown(status: int) -> Response:
        page = build(visit, load_setup(visit, setup_id), slot_key, slots, form)
        return visit.render("pages/setup/read.html", page, status)

    return answer(form, entries, keep, shown)


def slots_asked(setup: LoadedSetup, place: str, typed: str) -> tuple[Slot, ...]:
    """The slots of a page: the one it names; of a check those that its form carries, else those that it waits
    for, else all. 404 where the instrument has none such."""
    if not is_several(place):
        return (find_slot(setup, place),)
    check = Check(place)
    every = slots_of(setup.spec, check)
    # A floating bridge's own place is read in another way than its strings.
    every = tuple(slot for slot in every if not slot.level)
    wanted = set(typed.split())
    carried = tuple(slot for slot in every if slot.key in wanted)
    if carried:
        return carried
    step = setup.assessment.checks[check].step
    waiting = step.places if step is not None and step.act is Act.MEASURE else ()
    found = tuple(slot for slot in every if slot.key in waiting) or every
    if not found:
        raise HTTPException(404)
    return found


def find_slot(setup: LoadedSetup, slot_key: str) -> Slot:
    """The slot of this instrument, or 404."""
    try:
        return parse_slot(slot_key, setup.spec)
    except NoSuchSlot as missing:
        raise HTTPException(404) from missing


def _to_correct(setup: LoadedSetup, slot: Slot, entry_id: int) -> Entry | None:
    """The reading that the player wants to correct; 404 when it is not a valid reading of this slot."""
    if not entry_id:
        return None
    for entry in setup.journal.live:
        if entry.id == entry_id and entry.slot == slot.key and entry.kind is EntryKind.READING:
            return entry
    raise HTTPException(404)


def _corrected(setup: LoadedSetup, slot: Slot, form: FormReader) -> int | None:
    text = form.raw("corrects")
    if not text:
        return None
    live = {str(e.id): e.id for e in setup.journal.live if e.slot == slot.key}
    if text not in live:
        form.fault("value", "The reading to correct was struck through meanwhile.")
        form.told_newest = True
    return live.get(text)


def _ask(visit: Visit, setup: LoadedSetup, place: str, slots: tuple[Slot, ...], form: FormReader) -> Ask:
    return ask_of(setup.case, slots, form, visit.unit, visit.at_hand, single=not is_several(place))


def build(
    visit: Visit, setup: LoadedSetup, place: str, slots: tuple[Slot, ...], form: FormReader, after: str = ""
) -> ReadPage:
    """The page's context, from what is stored and what was typed."""
    ask = _ask(visit, setup, place, across(slots), form)
    states = tuple(setup.assessment.slot(slot.key) for slot in ask.slots)
    corrects = form.raw("corrects")
    one = len(slots) == 1
    return ReadPage(
        setup=setup,
        place=place,
        ask=ask,
        states=states,
        rows=rows_for(ask, states),
        heading=ask.check.heading(setup.case, slots[0]) if one else check_name(slots[0].check),
        lines=lines_for(ask),
        picture=_picture(setup, place, ask),
        answer_pictures=answers_drawn(ask),
        form=form,
        form_id=form_id_of(form),
        seen=form.show_with("seen", seen_of(setup.journal, *(slot.key for slot in slots))),
        guide=visit.trade.pages[slots[0].check],
        flash=flash(setup, after),
        corrects=next((e for e in setup.journal.live if str(e.id) == corrects), None),
    )


def _picture(setup: LoadedSetup, place: str, ask: Ask, typed: Entry | None = None) -> Picture:
    """Where the gauge goes; with what is typed, or without."""
    value = typed.value if typed else None
    cents, mm = (value, None) if ask.check.is_cents else (None, value)
    alone = ask.single and len(ask.slots) == 1
    return Picture(
        path=read_path(setup.id, place) + "/picture" if alone else "",
        drawing=drawing_for(ask, mm, cents),
        scale=strip_typed(setup.case, setup.assessment.slot(ask.slots[0].key), typed) if alone else None,
    )
