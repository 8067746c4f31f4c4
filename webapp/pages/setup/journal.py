"""The journal: everything that was recorded, striking an entry through, and logging what was not advised."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.setup.turn_form import AMOUNTS, adjustment, read_eighths
from webapp.pages.visit.addresses import read_path, setup_path
from webapp.pages.visit.answering import NotKept, answer, recorded, seen_of
from webapp.pages.visit.case_loading import LoadedSetup, load_setup
from webapp.pages.visit.forms import LONGEST_NOTE, FormReader, Posted, form_id_of
from webapp.pages.visit.visit import Visit, Visiting, new_form_id, see
from webapp.setups.dates import clock, short_day
from webapp.setups.journal import OF_NO_CHECK, Entry, EntryKind, Part, Turn, turn_detail
from webapp.setups.past.history import Taken, readings_taken
from webapp.setups.past.narrate import entry_title, entry_words
from webapp.setups.slots import all_slots, pickup_label, string_label, string_numbers
from webapp.trade.words import BridgeType, RodType, Side

router = APIRouter()


@dataclass(frozen=True)
class JournalRow:
    """One entry in words. `taken` is what a valid reading says by itself."""

    entry: Entry
    title: str
    words: str
    when: str
    struck: bool
    taken: Taken | None
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
    slots = all_slots(setup.spec)
    taken = {one.entry.id: one for slot in slots for one in readings_taken(setup.case, slot)}
    rows = tuple(
        _row(setup, entry, taken.get(entry.id))
        for entry in reversed(setup.journal.entries)
        if entry.kind is not EntryKind.VOID
    )
    return JournalPage(setup, rows, form, new_form_id())


def _row(setup: LoadedSetup, entry: Entry, taken: Taken | None) -> JournalRow:
    struck = entry.id in setup.journal.voided
    correctable = entry.kind is EntryKind.READING and not struck and not setup.finished
    return JournalRow(
        entry=entry,
        title=entry_title(setup.case, entry),
        words=entry_words(setup.case, entry),
        when=f"{short_day(entry.at)}, {clock(entry.at)}",
        struck=struck,
        taken=taken,
        correct_path=f"{read_path(setup.id, entry.slot)}?corrects={entry.id}" if correctable else "",
    )


PLACE = "log"


@dataclass(frozen=True)
class LogPage:
    """The form for logging anything, and for notes."""

    setup: LoadedSetup
    parts: tuple[tuple[str, str], ...]
    amounts: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    form: FormReader
    form_id: str
    seen: int

    @property
    def action(self) -> str:
        return setup_path(self.setup.id, "log")


@router.get("/setups/{setup_id}/log")
def show_log(setup_id: str, visit: Visiting) -> Response:
    return visit.render("pages/setup/log.html", build_log(visit, load_setup(visit, setup_id), FormReader({})))


@router.post("/setups/{setup_id}/log")
def send_log(setup_id: str, visit: Visiting, form: Posted) -> Response:
    setup = load_setup(visit, setup_id)

    def keep(entries: list[Entry]) -> Response:
        recorded(visit, setup, form, PLACE, entries, lambda place: "part")
        return see(setup_path(setup_id))

    def shown(status: int) -> Response:
        return visit.render(
            "pages/setup/log.html", build_log(visit, load_setup(visit, setup_id), form), status
        )

    return answer(form, _read(setup, form), keep, shown)


def _read(setup: LoadedSetup, form: FormReader) -> list[Entry]:
    entries = []
    note = form.text("note", LONGEST_NOTE)
    if note:
        entries.append(Entry(EntryKind.NOTE, OF_NO_CHECK, PLACE, typed=note))
    if form.raw("part"):
        turn = _turn(setup, form)
        if turn is not None:
            entries.append(adjustment(setup.case.say, PLACE, turn, turn_detail(turn)))
    elif not note:
        form.fault("part", "Choose what you turned, or write a note.")
    return entries


def _turn(setup: LoadedSetup, form: FormReader) -> Turn | None:
    key = form.choice("part", dict(part_options(setup)), "what you turned")
    if key is None:
        return None
    name, _, rest = key.partition(":")
    part = Part(name)
    by_others = part is Part.SADDLE_HEIGHT and setup.spec.bridge.type is BridgeType.ONE_PIECE
    eighths = 0 if by_others or part in (Part.STRINGS, Part.NUT) else read_eighths(form)
    if eighths is None:
        return None
    if part is Part.PICKUP_HEIGHT:
        pickup, _, side = rest.partition(":")
        return Turn(part, eighths, pickup=int(pickup), side=Side(side))
    if rest in (Side.BASS.value, Side.TREBLE.value):
        return Turn(part, eighths, side=Side(rest))
    return Turn(part, eighths, string=int(rest) if rest else None)


def part_options(setup: LoadedSetup) -> tuple[tuple[str, str], ...]:
    """Everything on this instrument that a player may have turned: (key, words)."""
    spec = setup.spec
    names = [(n, string_label(spec, n)) for n in string_numbers(spec)]
    options = [("strings", "Strings changed, or tuned to another pitch")]
    if spec.rod.type is not RodType.NONE:
        options.append(("rod", "Truss rod"))
    if spec.bridge.type is BridgeType.INDIVIDUAL:
        options += [(f"saddle_height:{n}", f"Saddle height, {name}") for n, name in names]
    elif spec.bridge.type is BridgeType.ONE_PIECE:
        options.append(("saddle_height", "Saddle, worked on (by a repairer)"))
    else:
        options += [(f"saddle_height:{side.value}", f"Bridge post, {side.value} side") for side in Side]
    if spec.bridge.type is not BridgeType.ONE_PIECE:
        options += [(f"saddle_position:{n}", f"Saddle position, {name}") for n, name in names]
    if spec.bridge.type is BridgeType.FLOATING:
        options.append(("springs", "Springs of the bridge"))
    options += [(f"nut:{n}", f"Nut slot, {name} (by a repairer)") for n, name in names]
    for number in range(1, len(spec.pickups) + 1):
        for side in Side:
            options.append(
                (f"pickup_height:{number}:{side.value}", f"{pickup_label(spec, number)}, {side.value} side")
            )
    return tuple(options)


def build_log(visit: Visit, setup: LoadedSetup, form: FormReader) -> LogPage:
    """The page's context."""
    return LogPage(
        setup=setup,
        parts=(("", "Nothing: only a note"), *part_options(setup)),
        amounts=tuple((str(n), setup.case.say.turns(n)) for n in AMOUNTS),
        cautions=tuple(c.text for c in visit.trade.cautions_for(setup.spec, "strings")),
        form=form,
        form_id=form_id_of(form),
        seen=form.show_with("seen", seen_of(setup.journal, PLACE)),
    )
