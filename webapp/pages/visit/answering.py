"""What a form is answered with: recorded once and on to the next step, or shown again as it was typed."""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from fastapi import HTTPException, Request
from fastapi.responses import Response
from starlette.requests import ClientDisconnect

from webapp.pages.visit.addresses import check_path, setup_path, step_path
from webapp.pages.visit.case_loading import LoadedSetup
from webapp.pages.visit.damaged import on_damage
from webapp.pages.visit.forms import FormReader, read_form
from webapp.pages.visit.visit import Visit
from webapp.setups.checks import READ_CHECKS
from webapp.setups.dates import clock
from webapp.setups.journal import Entry, EntryKind, Journal
from webapp.setups.say import Say
from webapp.setups.slots import all_slots
from webapp.setups.states import Act, Step
from webapp.store import entries
from webapp.store.errors import AlreadyRecorded, Finished, Stale
from webapp.store.trouble import DAMAGED, trouble_of
from webapp.trade.words import label
from webapp.web.state import state

Found = TypeVar("Found")

TWICE = "This was recorded already; nothing was recorded twice."
STALE = (
    "Meanwhile this was changed on another page. What you typed is still here: look through it once more, "
    "then press the button again."
)


class NotKept(Exception):
    """Nothing was kept: the sentence for the page, and the field that it stands beside."""

    def __init__(self, sentence: str, field: str = "", status: int = 409) -> None:
        super().__init__(sentence)
        self.sentence, self.field, self.status = sentence, field, status


def answer(
    form: FormReader,
    found: Found | None,
    keep: Callable[[Found], Response],
    show: Callable[[int], Response],
    made_at: Callable[[str], str] = lambda made: "",
) -> Response:
    """What every form is answered with, once it was read; `found` is what was read.

    A form with a fault keeps nothing and is shown again with 422. Else `keep` does its work, once, and leads
    on with 303. Where something newer was saved meanwhile, or this very form before, or the page has a reason
    of its own (NotKept), the form is shown again with 409 and the sentence. It then knows what is newest:
    sending it again is the player's decision. `made_at` gives the address of what the form made before.
    """
    if found is None or not form.ok:
        return show(422)
    status = 409
    try:
        return keep(found)
    except Stale:
        form.fault("", STALE)
    except AlreadyRecorded as earlier:
        form.fault("", TWICE, made_at(str(earlier.recorded_id)))
    except NotKept as refusal:
        form.fault(refusal.field, refusal.sentence)
        status = refusal.status
    form.told_newest = True
    return show(status)


FINISHED = "This setup is finished, so nothing more can be written in it. Start a new one."


def seen_of(journal: Journal, *places: str) -> int:
    """The newest entry of some places, for the form to carry: what comes after it was not on the page."""
    return max(map(journal.newest_id, places), default=0)


def recorded(
    visit: Visit,
    setup: LoadedSetup,
    form: FormReader,
    places: str | Sequence[str],
    new: Sequence[Entry],
    field: Callable[[str], str] = lambda place: "",
) -> LoadedSetup:
    """The setup with the form's entries in its journal, all of them or none.

    Raises NotKept, beside the `field` of the place, where the form was recorded before, the setup is
    finished, or one of the form's `places` was written to since the form was shown.
    """
    form_id = form.raw("form_id")[:64]
    if not form_id:
        raise NotKept("This form was incomplete. Send it again from this page.", field(""))
    shown = dict.fromkeys([places] if isinstance(places, str) else places, form.shown_with("seen"))
    try:
        with visit.writing() as session:
            added = entries.append(session, visit.bench_id, setup.id, form_id, shown, new, visit.now)
    except AlreadyRecorded as earlier:
        raise NotKept(TWICE, field("")) from earlier
    except Finished as finished:
        raise NotKept(FINISHED, field("")) from finished
    except Stale as stale:
        place = stale.newest.slot if stale.newest else ""
        raise NotKept(_meanwhile(visit.say, stale.newest), field(place)) from stale
    if not added:
        return setup
    return replace(setup, past=visit.app.kept.grow(setup.past, visit.bench_id, setup.row, added))


def _meanwhile(say: Say, newest: Entry | None) -> str:
    if newest is None:
        return "Something newer was saved meanwhile. Look at it before you send this again."
    at = clock(newest.at)
    if newest.kind is EntryKind.READING and newest.value is not None:
        what = say.reading(newest)
    else:
        what = "something else"
    return f"Meanwhile {what} was recorded here, at {at}. Send again to record yours after it."


def onward(setup: LoadedSetup, after: str = "") -> str:
    """The address of the next step; `after` is the slot or the check just read, to be told of there."""
    if setup.finished:
        return setup_path(setup.id, "report")
    step = setup.assessment.next
    if step.act is Act.STOP:
        return check_path(setup.id, step.check)
    path = step_path(setup.id, step)
    read = after in READ_CHECKS or after in {slot.key for slot in all_slots(setup.spec)}
    return f"{path}?after={after}" if read else path


def next_words(step: Step) -> str:
    """The main button while a setup is under way: 'Continue: string height, A string'."""
    if step.act is Act.STOP:
        return "Why this setup stopped"
    check, (_, _, place) = label(step.check), step.sentence.partition(": ")
    if step.act in (Act.MEASURE, Act.DECIDE):
        place = "" if len(step.places) > 1 else place
        return f"Continue: {check}" if place.lower() in ("", check) else f"Continue: {check}, {place}"
    first, _, _ = step.sentence.partition(". ")
    return f"Continue: {first[:1].lower()}{first[1:]}"


LOG = logging.getLogger("benchside")
# Set by whoever made the form; the player never saw them.
HIDDEN = frozenset({"form_id", "seen", "corrects", "version"})


@dataclass(frozen=True)
class NotSavedPage:
    """`pairs` is the whole form, to be sent again; `shown` what the player typed or chose."""

    title: str
    sentence: str
    action: str
    pairs: tuple[tuple[str, str], ...]

    @property
    def shown(self) -> tuple[tuple[str, str], ...]:
        return tuple(
            (name.replace("_", " "), words)
            for name, words in self.pairs
            if name not in HIDDEN and words.strip()
        )


async def on_trouble(request: Request, problem: Exception) -> Response:
    """507 where the disk is full, else 503; whatever is not the database's trouble goes on as a fault."""
    trouble = trouble_of(problem)
    if trouble is None:
        raise problem
    if trouble is DAMAGED:
        return on_damage(request, problem)
    LOG.error("no database", extra={"why": trouble.key}, exc_info=problem)
    status = 507 if trouble.full else 503
    page = NotSavedPage(trouble.title, trouble.sentence, request.url.path, await _typed(request))
    answer = state(request).templates.TemplateResponse(
        request, "pages/visit/not_saved.html", {"page": page}, status_code=status
    )
    answer.headers["Retry-After"] = "5"
    # The address stays that of the form.
    answer.headers["HX-Push-Url"] = "false"
    return answer


async def _typed(request: Request) -> tuple[tuple[str, str], ...]:
    """The form that was sent. It may not have been read yet: whose bench it is, is asked first."""
    if request.method != "POST":
        return ()
    if not hasattr(request.state, "typed"):
        try:
            await read_form(request)
        except (HTTPException, ClientDisconnect):
            return ()
    return tuple(request.state.typed)
