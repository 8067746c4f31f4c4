"""Reading one slot: where the gauge goes, the field, and the verdict on the last one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException
from fastapi.responses import Response

from webapp.drawings.shapes import Drawing
from webapp.pages.common import Visit, see, visit
from webapp.pages.flash import Flash, flash, value_words
from webapp.pages.forms import FormReader, form_id_of, read_form
from webapp.pages.loading import LoadedSetup, load_setup
from webapp.pages.onward import onward
from webapp.pages.places import adjust_path, read_path
from webapp.pages.reading_form import Choices, Ways, as_it_was_typed, choices_of, read_reading, ways_of
from webapp.pages.reading_help import drawing_for, expected_words, lines_for, progress
from webapp.pages.recording import Refused, record, seen_of
from webapp.setups.howto import heading
from webapp.setups.journal import Entry, EntryKind
from webapp.setups.slots import NoSuchSlot, Slot, parse_slot
from webapp.setups.states import SlotState
from webapp.trade.pages import CheckPage
from webapp.trade.tools import ReadingMethod

router = APIRouter()


@dataclass(frozen=True)
class ReadPage:
    """Everything the reading page shows."""

    setup: LoadedSetup
    state: SlotState
    value: str
    heading: str
    kicker: str
    lines: tuple[str, str]
    drawing: Drawing
    method: ReadingMethod
    methods: tuple[ReadingMethod, ...]
    ways: Ways
    choices: Choices
    form: FormReader
    form_id: str
    seen: int
    expected: tuple[str, str]
    guide: CheckPage
    flash: Flash | None
    corrects: Entry | None

    @property
    def action(self) -> str:
        return read_path(self.setup.id, self.state.slot.key)

    @property
    def keep_path(self) -> str:
        return adjust_path(self.setup.id, self.state.slot.key)


@router.get("/setups/{setup_id}/read/{slot_key}")
def show(
    setup_id: str,
    slot_key: str,
    visit: Annotated[Visit, Depends(visit)],
    tool: str = "",
    after: str = "",
    corrects: int = 0,
) -> Response:
    setup = load_setup(visit, setup_id)
    slot = find_slot(setup, slot_key)
    old = _to_correct(setup, slot, corrects)
    data = as_it_was_typed(old) if old else {}
    if tool:
        data["tool"] = tool
    page = build(visit, setup, slot, FormReader(data), after)
    return visit.render("pages/read.html", page)


@router.post("/setups/{setup_id}/read/{slot_key}")
def send(
    setup_id: str,
    slot_key: str,
    visit: Annotated[Visit, Depends(visit)],
    form: Annotated[FormReader, Depends(read_form)],
) -> Response:
    setup = load_setup(visit, setup_id)
    slot = find_slot(setup, slot_key)
    visit.remember_unit(form.unit("value", visit.unit))
    entry = read_reading(visit, setup, slot, form)
    if entry is None:
        return visit.render("pages/read.html", build(visit, setup, slot, form), 422)
    done = record(visit, setup, form, slot.key, [entry])
    if isinstance(done, Refused):
        form.fault("value", done.sentence)
        return visit.render("pages/read.html", build(visit, load_setup(visit, setup_id), slot, form), 409)
    return see(onward(done, slot.key))


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


def build(visit: Visit, setup: LoadedSetup, slot: Slot, form: FormReader, after: str = "") -> ReadPage:
    """The page's context, from what is stored and what was typed."""
    ways = ways_of(visit, setup, slot, form)
    state = setup.assessment.slot(slot.key)
    corrects = form.raw("corrects")
    old = next((e for e in setup.journal.live if str(e.id) == corrects), None)
    return ReadPage(
        setup=setup,
        state=state,
        value=value_words(setup, state),
        heading=heading(setup.case, slot),
        kicker=progress(setup, slot),
        lines=lines_for(setup, slot, ways),
        drawing=drawing_for(visit, setup, slot, ways),
        method=ways.method,
        methods=visit.trade.methods_for(slot.check),
        ways=ways,
        choices=choices_of(setup, slot, ways),
        form=form,
        form_id=form_id_of(form),
        seen=seen_of(setup.journal, slot.key),
        expected=expected_words(setup, slot),
        guide=visit.trade.pages[slot.check],
        flash=flash(setup, after),
        corrects=old,
    )
