"""What is shown where the disk changed what was recorded: that it did, what to do, and what is sound."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from fastapi import Request
from fastapi.responses import Response

from webapp.pages.visit.addresses import setup_path
from webapp.pages.visit.visit import held_key
from webapp.setups.dates import day
from webapp.store import backups, seals
from webapp.store.engine import reading
from webapp.store.seal_sums import ENTRY
from webapp.web.state import AppState, state

LOG = logging.getLogger("benchside")
LONGEST_LIST = 200


@dataclass(frozen=True)
class DamagedPage:
    """`copy` says which copy is good and what to do; `damaged` are the days of the setups that are; `lines`
    are the sound entries of the one that was asked for; `sound` are other setups, a day and an address."""

    copy: str
    damaged: tuple[str, ...]
    lines: tuple[tuple[str, str, str], ...]
    sound: tuple[tuple[str, str], ...]


def on_damage(request: Request, problem: Exception) -> Response:
    """503, with all that can still be told."""
    LOG.error("damaged", extra={"why": str(problem)})
    page = damaged_page(request, getattr(problem, "setup_id", ""))
    return _shown(request, page or DamagedPage(_copy(state(request)), (), (), ()))


def explained(request: Request) -> Response | None:
    """The same page for a failure that damage explains; None where everything is as it was recorded."""
    page = damaged_page(request, "")
    return None if page is None else _shown(request, page)


def damaged_page(request: Request, setup_id: str) -> DamagedPage | None:
    """What there is to say to this browser's bench; None where nothing is damaged."""
    app = state(request)
    try:
        with reading(app.engine) as session:
            ask = seals.asked(session.connection())
            found = list(seals.broken(ask))
            if not found:
                return None
            key = held_key(request, datetime.now(UTC))
            setups = seals.setups_of(ask, key.bench_id) if key is not None else {}
            hurt = {one.key for one in found if one.table == ENTRY} & setups.keys()
            asked_for = next((name for name in setups if name in request.url.path), "")
            wanted = setup_id if setup_id in hurt else asked_for
            lines = seals.sound_lines(ask, wanted) if wanted in setups else []
    except Exception as problem:
        # Whatever cannot even be read is told without its details.
        LOG.exception("damaged beyond reading", exc_info=problem)
        return DamagedPage(_copy(app), (), (), ())
    return DamagedPage(
        _copy(app),
        tuple(_day(setups[name]) for name in setups if name in hurt),
        tuple(_line(told) for told in lines[:LONGEST_LIST]),
        tuple((_day(at), setup_path(name, "journal")) for name, at in setups.items() if name not in hurt)[
            :LONGEST_LIST
        ],
    )


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
