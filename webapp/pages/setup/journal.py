"""The journal: everything that was recorded, and striking an entry through."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.visit.addresses import read_path, setup_path
from webapp.pages.visit.answering import NotKept, answer
from webapp.pages.visit.case_loading import LoadedSetup, load_setup
from webapp.pages.visit.dates import clock, short_day
from webapp.pages.visit.forms import FormReader, Posted
from webapp.pages.visit.recording import recorded
from webapp.pages.visit.visit import Visiting, new_form_id, see
from webapp.setups.journal import Entry, EntryKind
from webapp.setups.past.narrate import entry_title, entry_words

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
def show(setup_id: str, visit: Visiting) -> Response:
    return visit.render("pages/setup/journal.html", build(load_setup(visit, setup_id), FormReader({})))


@router.post("/setups/{setup_id}/journal")
def strike(setup_id: str, visit: Visiting, form: Posted) -> Response:
    """Strike one entry through: a new entry that voids it. The old one stays readable."""

    def keep(wanted: str) -> Response:
        setup = load_setup(visit, setup_id)
        entry = next((e for e in setup.journal.live if str(e.id) == wanted), None)
        if entry is None:
            raise NotKept("That entry is struck through already, or is not in this journal.")
        void = Entry(EntryKind.VOID, entry.check, entry.slot, voids=entry.id)
        recorded(visit, setup, form, f"void.{entry.id}", [void])
        return see(setup_path(setup_id, "journal"))

    def shown(status: int) -> Response:
        return visit.render("pages/setup/journal.html", build(load_setup(visit, setup_id), form), status)

    return answer(form, form.raw("strike"), keep, shown)


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
