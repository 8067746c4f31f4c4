"""The journal: everything that was recorded, and striking an entry through."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends
from fastapi.responses import Response

from webapp.pages.visit.addresses import read_path, setup_path
from webapp.pages.visit.case_loading import LoadedSetup, load_setup
from webapp.pages.visit.dates import clock, short_day
from webapp.pages.visit.forms import FormReader, read_form
from webapp.pages.visit.recording import Refused, record
from webapp.pages.visit.visit import Visit, new_form_id, see, visit
from webapp.setups.journal import Entry, EntryKind
from webapp.setups.past.narrate import entry_title, entry_words
from webapp.store.entries import NewEntry

router = APIRouter()


@dataclass(frozen=True)
class JournalRow:
    """One entry in words. `strike_path` is where a valid entry can be corrected or struck through."""

    entry: Entry
    title: str
    words: str
    when: str
    struck: bool
    correct_path: str


@dataclass(frozen=True)
class JournalPage:
    """All entries, newest first."""

    setup: LoadedSetup
    rows: tuple[JournalRow, ...]
    form: FormReader
    form_id: str

    @property
    def action(self) -> str:
        return setup_path(self.setup.id, "journal")


@router.get("/setups/{setup_id}/journal")
def show(setup_id: str, visit: Annotated[Visit, Depends(visit)]) -> Response:
    return visit.render("pages/setup/journal.html", build(load_setup(visit, setup_id), FormReader({})))


@router.post("/setups/{setup_id}/journal")
def strike(
    setup_id: str, visit: Annotated[Visit, Depends(visit)], form: Annotated[FormReader, Depends(read_form)]
) -> Response:
    """Strike one entry through: a new entry that voids it. The old one stays readable."""
    setup = load_setup(visit, setup_id)
    wanted = form.raw("strike")
    entry = next((e for e in setup.journal.live if str(e.id) == wanted), None)
    if entry is None:
        form.fault("", "That entry is struck through already, or is not in this journal.")
        return visit.render("pages/setup/journal.html", build(setup, form), 409)
    void = NewEntry("void", entry.check.value, entry.slot, voids=entry.id)
    done = record(visit, setup, form, f"void.{entry.id}", [void])
    if isinstance(done, Refused):
        form.fault("", done.sentence)
        return visit.render("pages/setup/journal.html", build(load_setup(visit, setup_id), form), 409)
    return see(setup_path(setup_id, "journal"))


def build(setup: LoadedSetup, form: FormReader) -> JournalPage:
    """The page's context."""
    rows = tuple(
        _row(setup, entry) for entry in reversed(setup.journal.entries) if entry.kind is not EntryKind.VOID
    )
    return JournalPage(setup, rows, form, new_form_id())


def _row(setup: LoadedSetup, entry: Entry) -> JournalRow:
    struck = entry.id in setup.journal.voided
    correctable = entry.kind is EntryKind.READING and not struck and not setup.finished
    return JournalRow(
        entry=entry,
        title=entry_title(setup.case, entry),
        words=entry_words(setup.case, entry),
        when=f"{short_day(entry.at)}, {clock(entry.at)}",
        struck=struck,
        correct_path=f"{read_path(setup.id, entry.slot)}?corrects={entry.id}" if correctable else "",
    )
