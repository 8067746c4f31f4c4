"""Writing to the journal, and what to say when someone else was quicker."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from webapp.pages.visit.answering import TWICE, NotKept
from webapp.pages.visit.case_loading import LoadedSetup
from webapp.pages.visit.dates import clock
from webapp.pages.visit.forms import FormReader
from webapp.pages.visit.visit import Visit
from webapp.setups.journal import Entry, EntryKind, Journal
from webapp.setups.say import Say
from webapp.store import entries
from webapp.store.errors import AlreadyRecorded, Finished, Stale

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
