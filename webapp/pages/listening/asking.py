"""Asking for a take: what to play and how, and taking in the file that was recorded."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import Response

from webapp.drawings.over_time.take import Step, steps_drawing
from webapp.drawings.shapes import Drawing
from webapp.pages.listening.take_work import NoRoom, Takes, TooLarge
from webapp.pages.visit.addresses import listen_path, question_name, read_path, setup_path, take_path
from webapp.pages.visit.answering import NotKept, answer
from webapp.pages.visit.case_loading import LoadedSetup, load_setup
from webapp.pages.visit.forms import FormReader
from webapp.pages.visit.uploads import Sent, read_sent
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.physics.numbers import write_number
from webapp.setups.listening import TIMES, Aim, NoSuchTake, TakeAsked, nominal_hz, take_asked
from webapp.setups.slots import string_label, string_numbers
from webapp.store import rates
from webapp.web.guard import SECURITY_HEADERS

router = APIRouter()
NO_FILE = "Choose the recording that you made."
TOO_LARGE = "This file is larger than 64 MB. Record sound without a picture, or a shorter take."
NO_DISK = "The file could not be kept: is the disk of this computer full?"
BUSY = "Another take is being listened to. Wait until it is done, then send this one."
TOO_MANY = "That is a great many takes in an hour. Wait a while, or type what a tuner shows."
# The microphone, for our own pages of this sort alone.
MAY_HEAR = SECURITY_HEADERS["Permissions-Policy"].replace("microphone=()", "microphone=(self)")


@dataclass(frozen=True)
class ListenPage:
    """A take that is asked for: `others` lead to the same for other strings."""

    setup: LoadedSetup
    asked: TakeAsked
    form: FormReader
    drawing: Drawing | None
    others: tuple[tuple[str, str, bool], ...]

    @property
    def action(self) -> str:
        return listen_path(self.setup.id, self.asked.name)

    @property
    def heading(self) -> str:
        name = string_label(self.setup.spec, self.asked.string) if self.asked.string else ""
        return {
            Aim.INTONATION: f"Play the {name} to the phone",
            Aim.TUNING: "Play every open string, twice",
            Aim.BUZZ: f"Play every fret of the {name}, softly, then hard",
        }[self.asked.aim]

    @property
    def steps(self) -> tuple[str, ...]:
        """What to play, in order."""
        spec = self.setup.spec
        if self.asked.aim is Aim.TUNING:
            return tuple(string_label(spec, n) for n, _ in self.asked.places)
        if self.asked.aim is Aim.BUZZ:
            return (
                f"Open softly, open hard, fret 1 softly, fret 1 hard, and so on to fret {spec.fret_count}",
            )
        return tuple(f"Fret {fret}, twice" if fret else "Open, twice" for _, fret in self.asked.places)

    @property
    def open_notes(self) -> str:
        """For the needle: 'E string=41.203;A string=55.000'."""
        case = self.setup.case
        notes = ((string_label(self.setup.spec, n), nominal_hz(case, n)) for n, _ in self.asked.places)
        return ";".join(f"{name}={write_number(hertz, 3)}" for name, hertz in notes)

    @property
    def typed_path(self) -> str:
        """Where the same is told by hand."""
        return typed_path(self.setup.id, self.asked)


def typed_path(setup_id: str, asked: TakeAsked) -> str:
    """Where what a take reads is told by hand."""
    if asked.slots():
        return read_path(setup_id, asked.place)
    return setup_path(setup_id, "ask", question_name(asked.place))


def find_asked(setup: LoadedSetup, what: str) -> TakeAsked:
    """The take of an address, or 404."""
    try:
        return take_asked(setup.case, what)
    except NoSuchTake as missing:
        raise HTTPException(404) from missing


async def read_take(request: Request) -> Sent:
    """The dependency that takes the recording in."""
    return await read_sent(request, NO_FILE, TOO_LARGE, "take")


@router.get("/setups/{setup_id}/listen/{what}")
def ask(setup_id: str, what: str, visit: Visiting) -> Response:
    setup = load_setup(visit, setup_id)
    return _shown(visit, setup, find_asked(setup, what), FormReader({}))


@router.post("/setups/{setup_id}/listen/{what}")
def send(
    setup_id: str, what: str, visit: Visiting, sent: Annotated[Sent, Depends(read_take)]
) -> Response:
    setup, form = load_setup(visit, setup_id), FormReader({})
    asked = find_asked(setup, what)
    return answer(
        form,
        sent,
        lambda sent: _begin(visit, setup, asked, sent),
        lambda status: _shown(visit, setup, asked, form, status),
    )


def _begin(visit: Visit, setup: LoadedSetup, asked: TakeAsked, sent: Sent) -> Response:
    if sent.file is None:
        raise NotKept(sent.fault, "take", sent.status)
    with visit.writing() as session:
        if not rates.take(session, rates.LISTENING, visit.bench_id, visit.now):
            raise NotKept(TOO_MANY, "take", 429)
    takes, notes, is_buzz = Takes(visit.app.settings.folder), asked.notes(setup.case), asked.aim is Aim.BUZZ
    try:
        take_id = takes.keep(visit.bench_id, setup.id, asked.name, notes, is_buzz, sent.file.file, visit.now)
    except NoRoom as busy:
        raise NotKept(BUSY, "take") from busy
    except TooLarge as large:
        raise NotKept(TOO_LARGE, "take", 413) from large
    except OSError as full:
        raise NotKept(NO_DISK, "take", 507) from full
    finally:
        sent.file.file.close()
    return see(take_path(take_id))


def _shown(
    visit: Visit, setup: LoadedSetup, asked: TakeAsked, form: FormReader, status: int = 200
) -> Response:
    page = ListenPage(setup, asked, form, _drawn(setup, asked), _others(setup, asked))
    shown = visit.render("pages/listening/listen.html", page, status)
    shown.headers["Permissions-Policy"] = MAY_HEAR
    return shown


def _drawn(setup: LoadedSetup, asked: TakeAsked) -> Drawing | None:
    """Where the fingers go, for one string."""
    if asked.aim is not Aim.INTONATION or asked.string is None:
        return None
    steps = [Step(fret, TIMES) for _, fret in asked.places]
    return steps_drawing(setup.spec.scale_of(asked.string), steps, setup.spec.fret_count)


def _others(setup: LoadedSetup, asked: TakeAsked) -> tuple[tuple[str, str, bool], ...]:
    """The strings to choose from: address, name, and whether it is this one."""
    if asked.string is None:
        return ()
    return tuple(
        (
            listen_path(setup.id, f"{asked.aim}.{number}"),
            string_label(setup.spec, number).replace(" string", ""),
            number == asked.string,
        )
        for number in string_numbers(setup.spec)
    )
