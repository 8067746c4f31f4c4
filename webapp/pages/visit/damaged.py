"""What is shown where the disk changed what was recorded: that it did, what to do, and what is sound."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from fastapi import Request
from fastapi.responses import Response

from webapp.pages.visit.addresses import instrument_path, setup_path
from webapp.pages.visit.case_loading import described
from webapp.pages.visit.visit import held_key
from webapp.setups.dates import day
from webapp.store import backups, damage, seals
from webapp.store.damage import BenchFound
from webapp.store.engine import reading
from webapp.store.errors import Damaged
from webapp.web.state import AppState, state

LOG = logging.getLogger("benchside")
LONGEST_LIST = 200
# What no instrument's own lines can say.
WHAT = {
    "bench": "what the bench itself remembers",
    "lesson": "a lesson",
    "lesson_version": "a lesson",
    "hand_in": "something handed in",
    "air_day": "the air of a day",
    "air_log_day": "the air of a day",
}


@dataclass(frozen=True)
class DamagedPage:
    """`copy` says which copy is good and what to do; `damaged` is what is not as it was recorded, in words;
    `lines` are the sound entries of the setup that was asked for; `sound` are instruments that are whole and
    `readable` setups of others, each with its address."""

    copy: str
    damaged: tuple[str, ...] = ()
    lines: tuple[tuple[str, str, str], ...] = ()
    sound: tuple[tuple[str, str], ...] = ()
    readable: tuple[tuple[str, str], ...] = ()


def on_damage(request: Request, problem: Exception) -> Response:
    """503, with all that can still be told."""
    LOG.error("damaged", extra={"why": str(problem)})
    page = damaged_page(request, problem if isinstance(problem, Damaged) else Damaged())
    return _shown(request, page or DamagedPage(_copy(state(request))))


def explained(request: Request) -> Response | None:
    """The same page for a failure that damage explains; None where everything is as it was recorded."""
    page = damaged_page(request, Damaged())
    return None if page is None else _shown(request, page)


def damaged_page(request: Request, problem: Damaged) -> DamagedPage | None:
    """What there is to say to this browser's bench; None where nothing is damaged."""
    app = state(request)
    try:
        with reading(app.engine) as session:
            ask = seals.asked(session.connection())
            found = damage.of_bench(ask, _bench_of(request))
            if found is None:
                return None
            asked_for = next((one.id for one in found.setups if one.id in request.url.path), "")
            wanted = asked_for or next((one.id for one in found.setups if one.id == problem.setup_id), "")
            lines = damage.sound_lines(ask, wanted) if wanted else []
    except Exception as beyond:
        # Whatever cannot even be read is told without its details.
        LOG.exception("damaged beyond reading", exc_info=beyond)
        return DamagedPage(_copy(app))
    hurt = (*dict.fromkeys(_hurt(found)), *filter(None, [WHAT.get(problem.table)]))
    shown = tuple(_line(told) for told in lines[:LONGEST_LIST])
    return DamagedPage(_copy(app), hurt, shown, tuple(_sound(found)), tuple(_readable(found)))


def _bench_of(request: Request) -> str:
    """The bench of the browser's key; none where that cannot be read either."""
    try:
        key = held_key(request, datetime.now(UTC))
    except Damaged:
        return ""
    return key.bench_id if key is not None else ""


def _hurt(found: BenchFound) -> Iterator[str]:
    names = _names(found)
    for instrument in found.instruments:
        if not instrument.whole:
            yield f"the description of {names[instrument.id]}"
    for setup in found.setups:
        if not setup.line_whole:
            yield f"a setup of {names[setup.instrument_id]}"
        elif not setup.entries_whole:
            yield f"the setup of {_day(setup.started_at)} on {names[setup.instrument_id]}"


def _sound(found: BenchFound) -> Iterator[tuple[str, str]]:
    """Without the air of each day nothing is said of any instrument as a whole."""
    names = _names(found)
    for instrument in found.instruments if found.air_whole else ():
        if found.is_whole(instrument):
            yield names[instrument.id], instrument_path(instrument.id)


def _readable(found: BenchFound) -> Iterator[tuple[str, str]]:
    whole = {one.id for one in found.instruments if found.air_whole and found.is_whole(one)}
    readable = [one for one in found.setups if one.whole and one.instrument_id not in whole]
    for setup in readable[:LONGEST_LIST]:
        yield f"The setup of {_day(setup.started_at)}", setup_path(setup.id, "journal")


def _names(found: BenchFound) -> dict[str, str]:
    return {
        one.id: described(one.spec_json).name if one.spec_json else "an instrument"
        for one in found.instruments
    }


def _day(at: Any) -> str:
    try:
        return day(at if isinstance(at, datetime) else datetime.fromisoformat(str(at)))
    except ValueError:
        return "an unknown day"


def _line(told: Any) -> tuple[str, str, str]:
    return _day(told["at"]), str(told["slot"]).replace(".", " "), f"{told['typed']} {told['unit']}".strip()


def _copy(app: AppState) -> str:
    """Which copy to put back. Whoever visits a hosted one cannot, and is not told where its files are."""
    settings = app.settings
    if settings.hosted or settings.database_url:
        return "Tell whoever looks after this Benchside; a copy can be put back there."
    good = backups.newest_good(settings.database)
    if good is None:
        return "There is no good copy beside it. `benchside doctor` on its computer says more."
    return (
        f"The newest good copy is of {backups.day_of(good)}. Stop Benchside on its computer, then put it "
        f"back with: benchside restore {good.path}"
    )


def _shown(request: Request, page: DamagedPage) -> Response:
    answer = state(request).templates.TemplateResponse(
        request, "pages/visit/damaged.html", {"page": page}, status_code=503
    )
    answer.headers["HX-Push-Url"] = "false"
    return answer
