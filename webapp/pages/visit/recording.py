"""Writing to the journal, and what to say when someone else was quicker."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from webapp.pages.visit.case_loading import LoadedSetup
from webapp.pages.visit.dates import clock
from webapp.pages.visit.forms import FormReader
from webapp.pages.visit.visit import Visit
from webapp.setups.journal import Entry, EntryKind, Journal
from webapp.setups.say import Say
from webapp.store import entries
from webapp.store.errors import AlreadyRecorded, Finished, Stale

FINISHED = "This setup is finished, so nothing more can be written in it. Start a new one."
TWICE = "This was recorded already; nothing was recorded twice."


@dataclass(frozen=True)
class Refused:
    """Nothing was written: the sentence for the page, which answers 409, and the place it is about."""

    sentence: str
    place: str = ""


def seen_of(journal: Journal, *places: str) -> int:
    """The newest entry of some places, for the form to carry: what comes after it was not on the page."""
    return max(map(journal.newest_id, places), default=0)


def record(
    visit: Visit, setup: LoadedSetup, form: FormReader, places: str | Sequence[str], new: Sequence[Entry]
) -> Refused | LoadedSetup:
    """Append the entries of one form; the setup with them when they are written.

    Refused where one of the form's `places` was written to since the form was shown.
    """
    form_id = form.raw("form_id")[:64]
    if not form_id:
        return Refused("This form was incomplete. Send it again from this page.")
    seen_text = form.raw("seen", "0")
    seen = int(seen_text) if seen_text.isdecimal() and len(seen_text) < 12 else 0
    shown = dict.fromkeys([places] if isinstance(places, str) else places, seen)
    try:
        with visit.writing() as session:
            added = entries.append(session, visit.bench_id, setup.id, form_id, shown, new, visit.now)
    except AlreadyRecorded:
        return Refused(TWICE)
    except Finished:
        return Refused(FINISHED)
    except Stale as stale:
        return Refused(_meanwhile(visit.say, stale.newest), stale.newest.slot if stale.newest else "")
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
