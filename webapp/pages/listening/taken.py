"""What was heard in a take: note by note, what it comes to, and recording that."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from urllib.parse import urlencode

from fastapi import APIRouter, HTTPException
from fastapi.responses import Response

from webapp.drawings.over_time.take import Played, take_drawing
from webapp.drawings.shapes import Drawing
from webapp.hearing.answers import without
from webapp.pages.listening.asking import find_asked, typed_path
from webapp.pages.listening.take_work import TakeJob, Takes, TakeState
from webapp.pages.visit.addresses import listen_path, take_path
from webapp.pages.visit.answering import NotKept, answer, onward, recorded, seen_of
from webapp.pages.visit.case_loading import LoadedSetup, load_setup
from webapp.pages.visit.forms import FormReader, Posted, count_of, form_id_of
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.physics.listening import Hearing, Note, give_or_take_cents
from webapp.physics.numbers import say_number
from webapp.setups.listening import (
    Aim,
    HeardPlace,
    HeardTuning,
    TakeAsked,
    heard_entries,
    heard_places,
    heard_tuning,
)
from webapp.setups.slots import string_label

router = APIRouter()
OTHER_STRING = "All of it lies far from the notes that were asked for. Was it another string?"
NOTHING = "Nothing is left to record. Leave fewer notes out, or play it again."


@dataclass(frozen=True)
class NoteRow:
    """One note of a take: its number in the take and on the page, what it is, what was heard, why it is
    left out."""

    index: int
    name: str
    said: str
    why: str
    is_out: bool

    @property
    def number(self) -> int:
        return self.index + 1


@dataclass(frozen=True)
class TakePage:
    """A take that is being listened to, or what was heard in it. `out` are the notes that the player left
    out; `is_shifted`: they said that it is tuned so many semitones away."""

    setup: LoadedSetup
    job: TakeJob
    asked: TakeAsked
    form: FormReader
    form_id: str
    seen: int
    out: frozenset[int]
    is_shifted: bool

    @property
    def action(self) -> str:
        return take_path(self.job.id)

    @property
    def again_path(self) -> str:
        return listen_path(self.setup.id, self.job.what)

    @property
    def typed_path(self) -> str:
        return typed_path(self.setup.id, self.asked)

    @property
    def is_listening(self) -> bool:
        return self.job.state is TakeState.LISTENING

    @property
    def is_cut_off(self) -> bool:
        return self.job.state is TakeState.CUT_OFF

    @property
    def semitones(self) -> int:
        """How many semitones it may be tuned away."""
        return self.job.answer.shift

    @cached_property
    def hearing(self) -> Hearing | None:
        """With what the player said of it."""
        told = self.job.answer
        heard = told.shifted if self.is_shifted and told.shifted else told.hearing
        return without(heard, self.out) if heard else None

    @property
    def asks_shift(self) -> bool:
        """Whether it all fits a tuning some semitones away, and only the player can say so."""
        heard = self.hearing
        return heard is not None and heard.asks and bool(self.semitones) and not self.is_shifted

    @property
    def refused(self) -> str:
        """Why nothing is answered."""
        told, heard = self.job.answer, self.hearing
        if told.refused or heard is None:
            return told.refused
        return OTHER_STRING if heard.asks and not self.semitones else heard.refused or ""

    @property
    def places(self) -> tuple[HeardPlace, ...]:
        return heard_places(self.asked, self.hearing.differences) if self.hearing else ()

    @property
    def counted(self) -> tuple[Note, ...]:
        """The notes that were not left out."""
        notes = self.hearing.notes if self.hearing else ()
        return tuple(note for index, note in enumerate(notes) if index not in self.out)

    @property
    def results(self) -> tuple[tuple[str, str, str], ...]:
        """What it comes to: the place, the cents, and the give or take."""
        return tuple((f"Fret {one.fret}", *_worth(one.cents, one.error_cents)) for one in self.places)

    @property
    def missing(self) -> tuple[str, ...]:
        """The places that were asked for and could not be read."""
        read = {one.fret for one in self.places}
        frets = dict.fromkeys(fret for _, fret in self.asked.places if fret)
        return tuple(f"Fret {fret}" for fret in frets if fret not in read) if self.asked.slots() else ()

    @property
    def tuning(self) -> tuple[tuple[HeardTuning, str, str], ...]:
        """Each open string, its cents, and the give or take."""
        if self.asked.aim is not Aim.TUNING or self.hearing is None:
            return ()
        rows = heard_tuning(self.setup.case, self.hearing.pitches, self.semitones if self.is_shifted else 0)
        return tuple(
            (row, *(("", "") if row.cents is None else _worth(row.cents, row.error_cents))) for row in rows
        )

    @property
    def rows(self) -> tuple[NoteRow, ...]:
        notes = self.hearing.notes if self.hearing else ()
        return tuple(self._row(index, note) for index, note in enumerate(notes))

    def _row(self, index: int, note: Note) -> NoteRow:
        heard = "" if math.isnan(note.start_s) else f"{say_number(note.start_s, 1)} s"
        if note.refused is None:
            cents = 1200 * math.log2(note.pitch_hz / note.nominal_hz)
            heard += ", {} cents, give or take {}".format(*_worth(cents, note.error_cents))
        return NoteRow(index, self._lane(note), heard, note.refused or "", index in self.out)

    def _lane(self, note: Note) -> str:
        if self.asked.aim is Aim.TUNING:
            return string_label(self.setup.spec, note.string)
        return f"Fret {note.fret}" if note.fret else "Open"

    @property
    def left_out(self) -> tuple[tuple[str, str], ...]:
        """What else was heard: when and at what pitch, and why it counts for nothing."""
        heard = self.hearing.left_out if self.hearing else ()
        pitch = {one: f", {say_number(one.pitch_hz, 1)} Hz" if one.pitch_hz else "" for one in heard}
        return tuple((f"{say_number(one.start_s, 1)} s{pitch[one]}", one.why) for one in heard)

    @property
    def drawing(self) -> Drawing | None:
        """The notes along the seconds."""
        if self.hearing is None or self.hearing.refused:
            return None
        rows = zip(self.rows, self.hearing.notes, strict=True)
        played = [
            Played(row.number, row.name, note.start_s, not row.why and not row.is_out, row.said)
            for row, note in rows
            if not math.isnan(note.start_s)
        ]
        lanes = list(dict.fromkeys(row.name for row in self.rows))
        others = [one.start_s for one in self.hearing.left_out]
        return take_drawing(lanes, played, others, self.job.answer.seconds)

    @property
    def marks(self) -> tuple[str, ...]:
        """The frets at which a buzz may have been heard."""
        return tuple(_fret(fret) for _, fret in sorted(self.job.answer.marks or ()))

    @property
    def unread(self) -> tuple[tuple[str, str], ...]:
        """The frets of which nothing can be said, and why."""
        return tuple((_fret(fret), why) for (_, fret), why in sorted((self.job.answer.unread or {}).items()))

    @property
    def string(self) -> str:
        return string_label(self.setup.spec, self.asked.string) if self.asked.string else ""


def _fret(fret: int) -> str:
    return f"fret {fret}" if fret else "open"


def _worth(cents: float, error: float) -> tuple[str, str]:
    """Cents with their sign, and the give or take."""
    return say_number(cents, 1, plus=True), say_number(give_or_take_cents(error), 1)


@router.get("/takes/{take_id}")
def show(take_id: str, visit: Visiting, shift: str = "") -> Response:
    """How far it is, or what was heard; `out` in the address names the notes that are left out."""
    query = visit.request.query_params
    form = FormReader({"shift": shift}, {"out": query.getlist("out")})
    return visit.render("pages/listening/taken.html", _page(visit, take_id, form))


@router.get("/takes/{take_id}/progress")
def progress(take_id: str, visit: Visiting) -> Response:
    """The part of the page that is fetched again and again while it is listened to."""
    return visit.render("parts/listening/taken.html", _page(visit, take_id, FormReader({})))


@router.post("/takes/{take_id}")
def act(take_id: str, visit: Visiting, form: Posted) -> Response:
    """Record what was heard, work it out without some notes, or forget the take."""
    page = _page(visit, take_id, form)
    wish = form.choice("do", ("record", "again", "drop"), "what to do")

    def keep(wish: str) -> Response:
        if wish == "drop":
            Takes(visit.app.settings.folder).drop(visit.bench_id, take_id)
            return see(page.again_path)
        if wish == "again":
            told = [("out", index) for index in sorted(page.out)] + [("shift", "yes")] * page.is_shifted
            return see(f"{page.action}?{urlencode(told)}")
        entries = heard_entries(page.places, page.counted)
        if not entries:
            raise NotKept(NOTHING, status=422)
        slots = [slot.key for slot in page.asked.slots()]
        done = recorded(visit, page.setup, form, slots, entries)
        return see(onward(done, page.asked.check.value))

    def shown(status: int) -> Response:
        return visit.render("pages/listening/taken.html", _page(visit, take_id, form), status)

    return answer(form, wish, keep, shown)


def _page(visit: Visit, take_id: str, form: FormReader) -> TakePage:
    job = Takes(visit.app.settings.folder).find(visit.bench_id, take_id)
    if job is None:
        raise HTTPException(404)
    setup = load_setup(visit, job.setup_id)
    asked = find_asked(setup, job.what)
    return TakePage(
        setup=setup,
        job=job,
        asked=asked,
        form=form,
        form_id=form_id_of(form),
        seen=form.show_with("seen", seen_of(setup.journal, *(slot.key for slot in asked.slots()))),
        out=frozenset(count_of(text, -1) for text in form.many("out")),
        is_shifted=form.raw("shift") == "yes",
    )
