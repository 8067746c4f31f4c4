"""What was heard in a take: note by note, what it comes to, and recording that."""

from __future__ import annotations

import io
import math
import re
import wave
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, HTTPException, Query
from fastapi.responses import Response

from webapp.drawings.over_time.take import Played, take_drawing
from webapp.drawings.shapes import Drawing
from webapp.hearing.answers import without
from webapp.hearing.decoding import RATE_HZ
from webapp.pages.listening.asking import find_asked, typed_path
from webapp.pages.listening.take_work import PIECE_S, SAMPLE_BYTES, TakeJob, Takes, TakeState
from webapp.pages.visit.addresses import listen_path, take_path
from webapp.pages.visit.answering import NotKept, answer, onward, recorded, seen_of
from webapp.pages.visit.case_loading import LoadedSetup, load_setup
from webapp.pages.visit.forms import FormReader, Posted, count_of, form_id_of
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.physics.listening import Hearing, Note, give_or_take_cents
from webapp.physics.numbers import say_number, write_number
from webapp.setups.listening import (
    Aim,
    HeardPlace,
    HeardTuning,
    Place,
    TakeAsked,
    heard_entries,
    heard_places,
    heard_tuning,
)
from webapp.setups.slots import string_label
from webapp.web.guard import SECURITY_HEADERS

router = APIRouter()
# The page that shows a take plays it too.
MAY_PLAY = SECURITY_HEADERS["Content-Security-Policy"] + "; media-src 'self'"
SOUND = "audio/wav"
# A note is heard from a little before it begins.
BEFORE_S = 0.1
# Of a soft note and the same played hard, so much of the soft one at most.
SOFT_S = 3.0
_RANGE = re.compile(r"bytes=(\d{1,9})-(\d{0,9})", re.ASCII)
OTHER_STRING = "All of it lies far from the notes that were asked for. Was it another string?"
NOTHING = "Nothing is left to record. Leave fewer notes out, or play it again."


@dataclass(frozen=True)
class NoteRow:
    """One note of a take: its number in the take and on the page, what it is, what was heard, why it is
    left out, and where its sound is ('' where there is none)."""

    index: int
    name: str
    said: str
    why: str
    is_out: bool
    sound: str

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
    can_hear: bool

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
        sound = self._sound(note.start_s)
        return NoteRow(index, self._lane(note), heard, note.refused or "", index in self.out, sound)

    @cached_property
    def _starts(self) -> tuple[float, ...]:
        """When anything began."""
        notes = self.hearing.notes if self.hearing else ()
        others = self.hearing.left_out if self.hearing else ()
        starts = [note.start_s for note in notes] + [other.start_s for other in others]
        return tuple(sorted(at for at in starts if not math.isnan(at)))

    def _sound(self, start_s: float) -> str:
        """The address of what began then, up to the next; '' where it cannot be heard."""
        return self._piece(start_s, next((one for one in self._starts if one > start_s), math.inf))

    def _piece(self, start_s: float, until_s: float) -> str:
        if not self.can_hear or math.isnan(start_s):
            return ""
        begin = max(0.0, start_s - BEFORE_S)
        span = (("from", begin), ("to", min(until_s, begin + PIECE_S)))
        return f"{self.action}/sound?{urlencode([(name, write_number(at, 2)) for name, at in span])}"

    def _lane(self, note: Note) -> str:
        if self.asked.aim is Aim.TUNING:
            return string_label(self.setup.spec, note.string)
        return f"Fret {note.fret}" if note.fret else "Open"

    @property
    def left_out(self) -> tuple[tuple[str, str, str], ...]:
        """What else was heard: when and at what pitch, why it counts for nothing, and where its sound is."""
        heard = self.hearing.left_out if self.hearing else ()
        pitch = {one: f", {say_number(one.pitch_hz, 1)} Hz" if one.pitch_hz else "" for one in heard}
        return tuple(
            (f"{say_number(one.start_s, 1)} s{pitch[one]}", one.why, self._sound(one.start_s))
            for one in heard
        )

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
    def marks(self) -> tuple[tuple[str, str], ...]:
        """The frets at which a buzz may have been heard, and where the sound of each is."""
        return tuple(
            (_fret(fret), self._pair((string, fret))) for string, fret in sorted(self.job.answer.marks or ())
        )

    @property
    def unread(self) -> tuple[tuple[str, str, str], ...]:
        """The frets of which nothing can be said, why, and where the sound of each is."""
        unread = sorted((self.job.answer.unread or {}).items())
        return tuple((_fret(place[1]), why, self._pair(place)) for place, why in unread)

    def _pair(self, place: Place) -> str:
        """The address of a soft note and the same played hard, up to what came next; '' where it has none."""
        starts = self.job.answer.starts_s or {}
        if place not in starts:
            return ""
        soft, hard = starts[place]
        later = [at for pair in starts.values() for at in pair if at > hard]
        return self._piece(max(soft, hard - SOFT_S), min(later, default=math.inf))

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
    return _shown(visit, _page(visit, take_id, form))


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
        Takes(visit.app.settings.folder).hush(visit.bench_id, take_id)
        return see(onward(done, page.asked.check.value))

    def shown(status: int) -> Response:
        return _shown(visit, _page(visit, take_id, form), status)

    return answer(form, wish, keep, shown)


@router.get("/takes/{take_id}/sound")
def sound(
    take_id: str,
    visit: Visiting,
    begin: Annotated[str, Query(alias="from")] = "",
    end: Annotated[str, Query(alias="to")] = "",
) -> Response:
    """A piece of a take, in seconds from its start, as a WAV file; 404 where there is nothing to hear."""
    takes = Takes(visit.app.settings.folder)
    if takes.find(visit.bench_id, take_id) is None:
        raise HTTPException(404)
    try:
        piece = takes.piece(visit.bench_id, take_id, float(begin), float(end))
    except ValueError as odd:
        raise HTTPException(404) from odd
    if not piece:
        raise HTTPException(404)
    return _ranged(_wav(piece), visit.request.headers.get("range", ""))


def _wav(samples: bytes) -> bytes:
    kept = io.BytesIO()
    with wave.open(kept, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(SAMPLE_BYTES)
        file.setframerate(RATE_HZ)
        file.writeframes(samples)
    return kept.getvalue()


def _ranged(content: bytes, asked: str) -> Response:
    """All of it, or the bytes that were asked for: some phones play nothing that does not come so."""
    headers = {"Accept-Ranges": "bytes"}
    if (span := _RANGE.fullmatch(asked)) is None:
        return Response(content, media_type=SOUND, headers=headers)
    first, last = int(span[1]), min(int(span[2] or len(content)), len(content) - 1)
    if first > last:
        return Response(status_code=416, headers={"Content-Range": f"bytes */{len(content)}"})
    headers["Content-Range"] = f"bytes {first}-{last}/{len(content)}"
    return Response(content[first : last + 1], 206, headers, SOUND)


def _shown(visit: Visit, page: TakePage, status: int = 200) -> Response:
    answer = visit.render("pages/listening/taken.html", page, status)
    answer.headers["Content-Security-Policy"] = MAY_PLAY
    return answer


def _page(visit: Visit, take_id: str, form: FormReader) -> TakePage:
    takes = Takes(visit.app.settings.folder)
    job = takes.find(visit.bench_id, take_id)
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
        can_hear=takes.can_hear(visit.bench_id, take_id),
    )
