"""When to look again: everything that is due on the bench, and the same for a calendar."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.instrument.bench import BenchLine, look
from webapp.pages.visit.visit import Visit, Visiting
from webapp.setups.checks import READ_CHECKS
from webapp.setups.dates import day
from webapp.setups.say import capital
from webapp.setups.seasons.due import DayEvent, Due, calendar_text

router = APIRouter()

_BY_KEY = {"strings": "new strings", "review": "a setup"}


@dataclass(frozen=True)
class DueLine:
    """One thing to do."""

    instrument: str
    href: str
    what: str
    why: str
    when: str


@dataclass(frozen=True)
class DuePage:
    """What is due now, and what comes later."""

    now: tuple[DueLine, ...]
    later: tuple[DueLine, ...]
    instruments: int


@router.get("/due")
def show(visit: Visiting) -> Response:
    """Everything on the bench, the earliest first."""
    instruments, found = _everything(visit)
    lines = [(due, _line(one, due)) for one, due in found]
    page = DuePage(
        now=tuple(line for due, line in lines if due.is_due(visit.now)),
        later=tuple(line for due, line in lines if not due.is_due(visit.now)),
        instruments=instruments,
    )
    return visit.render("pages/instrument/due.html", page)


@router.get("/due.ics")
def calendar(visit: Visiting) -> Response:
    """The same as days in a calendar; what is overdue stands on today."""
    today = visit.now.astimezone().date()
    events = [
        DayEvent(
            uid=f"{one.id}.{due.key}@benchside",
            day=max(due.when.astimezone().date(), today),
            summary=f"{one.spec.name}: {what_to_do(due)}",
            description=due.why,
            url=f"{visit.app.settings.address.rstrip('/')}{one.href}",
        )
        for one, due in _everything(visit)[1]
    ]
    text = calendar_text("Benchside: when to look again", events, visit.now)
    headers = {"Content-Disposition": 'attachment; filename="benchside.ics"'}
    return Response(text, media_type="text/calendar; charset=utf-8", headers=headers)


def _everything(visit: Visit) -> tuple[int, list[tuple[BenchLine, Due]]]:
    """How many instruments there are, and all that is due on them, the earliest first."""
    lines, _ = look(visit)
    found = [(line, due) for line in lines for due in line.stands.dues]
    return len(lines), sorted(found, key=lambda one: one[1].rank)


def _line(one: BenchLine, due: Due) -> DueLine:
    words = what_to_do(due)
    where = one.href if due.sets_up else f"{one.href}/{'strings' if due.key == 'strings' else 'quick'}"
    return DueLine(one.spec.name, where, capital(words), due.why, day(due.when))


def what_to_do(due: Due) -> str:
    """In a few words: 'read the relief', 'put the relief right'."""
    readings = READ_CHECKS[due.check].readings if due.key not in _BY_KEY else ""
    return _BY_KEY.get(due.key) or (f"put {readings} right" if due.off else f"read {readings}")
