"""One string over the whole board: read as many frets as you like, see what the error splits into."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, HTTPException
from fastapi.responses import Response

from webapp.drawings.bands.before_after import Change, before_after
from webapp.drawings.bands.strip import Value
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import CENTS
from webapp.pages.visit.addresses import setup_path
from webapp.pages.visit.answering import answer, recorded
from webapp.pages.visit.case_loading import LoadedSetup, load_setup
from webapp.pages.visit.forms import FormReader, Posted, form_id_of
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.setups.checks.intonation import Intonation
from webapp.setups.journal import Entry, EntryKind
from webapp.setups.slots import string_label, string_numbers, tuned_slot
from webapp.setups.states import said, word_of
from webapp.setups.strings.string_setting import StartingPlace, starting_places
from webapp.setups.tryout.intonation_split import SPLIT_FRETS, Split, current_readings, split_of

router = APIRouter()


@dataclass(frozen=True)
class FretField:
    """One fret's field: its name, and what is known for it."""

    fret: int
    name: str
    last: str


@dataclass(frozen=True)
class IntonationPage:
    """The form over the board, and the split of what has been read."""

    setup: LoadedSetup
    number: int
    name: str
    fields: tuple[FretField, ...]
    split: Split | None
    picture: Drawing | None
    strings: tuple[tuple[str, str], ...]
    place: StartingPlace | None
    cautions: tuple[str, ...]
    form: FormReader
    form_id: str
    seen: int

    @property
    def action(self) -> str:
        return page_path(self.setup.id, self.number)


def page_path(setup_id: str, number: int) -> str:
    """The page of one string."""
    return setup_path(setup_id, "intonation", str(number))


@router.get("/setups/{setup_id}/intonation/{number}")
def show(setup_id: str, number: int, visit: Visiting) -> Response:
    setup = _find(visit, setup_id, number)
    return visit.render("pages/tryout/intonation_split.html", build(visit, setup, number, FormReader({})))


@router.post("/setups/{setup_id}/intonation/{number}")
def send(
    setup_id: str,
    number: int,
    visit: Visiting,
    form: Posted,
) -> Response:
    setup = _find(visit, setup_id, number)

    def keep(entries: list[Entry]) -> Response:
        recorded(visit, setup, form, tuned_slot(number).key, entries)
        return see(page_path(setup_id, number))

    def shown(status: int) -> Response:
        page = build(visit, _find(visit, setup_id, number), number, form)
        return visit.render("pages/tryout/intonation_split.html", page, status)

    return answer(form, _read(visit, setup, number, form), keep, shown)


def _find(visit: Visit, setup_id: str, number: int) -> LoadedSetup:
    setup = load_setup(visit, setup_id)
    if number not in string_numbers(setup.spec):
        raise HTTPException(404)
    return setup


def _frets(setup: LoadedSetup) -> tuple[int, ...]:
    """The frets to offer: none above the highest that a hand reaches on this neck."""
    high = setup.case.high_fret
    return tuple(sorted({f for f in SPLIT_FRETS if f <= high} | {high}))


def _read(visit: Visit, setup: LoadedSetup, number: int, form: FormReader) -> list[Entry]:
    tuner, widest = visit.trade.tools["tuner"], Intonation.widest
    entries = []
    for fret in _frets(setup):
        name = f"fret_{fret}"
        if not form.raw(name).strip():
            continue
        cents = form.cents(name, widest)
        if cents is not None:
            role = "12" if fret == 12 else "high" if fret == setup.case.high_fret else str(fret)
            entries.append(
                Entry(
                    EntryKind.READING,
                    Intonation.check,
                    f"intonation.{number}.{role}",
                    cents,
                    "cents",
                    form.raw(name).strip(),
                    tuner.key,
                    tuner.sigma,
                    {"fret": fret, "method": tuner.key},
                )
            )
    if form.ok and not entries:
        form.fault(f"fret_{_frets(setup)[0]}", "Type at least one fret’s cents.")
    return entries


def build(visit: Visit, setup: LoadedSetup, number: int, form: FormReader) -> IntonationPage:
    """The page's context."""
    case = setup.case
    known = current_readings(case, number)
    split = split_of(case, number)
    return IntonationPage(
        setup=setup,
        number=number,
        name=string_label(setup.spec, number),
        fields=tuple(
            FretField(fret, f"fret_{fret}", case.say.cents(known[fret].value or 0.0) if fret in known else "")
            for fret in _frets(setup)
        ),
        split=split,
        picture=_picture(setup, number, split) if split else None,
        strings=tuple(
            (string_label(setup.spec, n), page_path(setup.id, n)) for n in string_numbers(setup.spec)
        ),
        place=next((p for p in starting_places(case) if p.number == number), None),
        cautions=tuple(c.text for c in visit.trade.cautions_for(setup.spec, Intonation.check.value)),
        form=form,
        form_id=form_id_of(form),
        seen=form.show_with("seen", setup.journal.newest_id(tuned_slot(number).key)),
    )


def _picture(setup: LoadedSetup, number: int, split: Split) -> Drawing:
    """Every fret as it was read, and what would be left over with the saddle and the nut put right."""
    rows = []
    for fret, cents in split.readings.items():
        bands, left = setup.case.bands_at(tuned_slot(number), fret), split.fit.remainder_cents[fret]
        usual, target = (bands.usual.low, bands.usual.high), (bands.target.low, bands.target.high)
        word = word_of(left, bands)
        words = said(Intonation.check, word)
        rows.append(Change(f"Fret {fret}", CENTS, usual, target, Value(cents), Value(left), word, words))
    return before_after(rows)
