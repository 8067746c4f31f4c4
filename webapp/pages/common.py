"""What every page does the same way: whose bench it is, loading, rendering, sending on."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from typing import Any, TypeVar

from fastapi import HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from webapp.kept import Past
from webapp.pages.keyring import held_key, renew
from webapp.physics.lengths import Unit
from webapp.setups.say import Say
from webapp.state import AppState, state
from webapp.store import benches
from webapp.store.engine import Session, reading, writing
from webapp.store.errors import NotFound
from webapp.store.keys import KeyRow
from webapp.trade.load import Trade

Found = TypeVar("Found")
UNITS: tuple[tuple[str, str], ...] = (
    (Unit.mm.value, "mm"),
    (Unit.inch.value, "inches"),
    (Unit.thou.value, "thou"),
    (Unit.sixty_fourths.value, "64ths"),
)


@dataclass(frozen=True)
class Visit:
    """One request on one bench."""

    request: Request
    app: AppState
    bench_id: str
    unit: Unit
    now: datetime
    key: KeyRow

    @property
    def trade(self) -> Trade:
        return self.app.trade

    @cached_property
    def say(self) -> Say:
        """Numbers in this player's unit."""
        return Say(self.unit)

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session that only looks; what is not on this bench answers 404."""
        try:
            with reading(self.app.engine) as session:
                yield session
        except NotFound as missing:
            raise HTTPException(404) from missing

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A session whose work is kept whole or not at all; what is not on this bench answers 404."""
        try:
            with writing(self.app.engine, self.bench_id) as session:
                yield session
        except NotFound as missing:
            raise HTTPException(404) from missing

    def once(self, past: Past, what: tuple[Hashable, ...], work: Callable[[], Found]) -> Found:
        """What follows from an instrument's past, in this player's unit and at this time."""
        return past.once((*what, self.unit, self.now.replace(second=0, microsecond=0)), work)

    def remember_unit(self, unit: Unit) -> None:
        """Keep the unit the player chose last."""
        if unit is not self.unit:
            with self.writing() as session:
                benches.set_unit(session, self.bench_id, unit.value)

    def render(self, template: str, page: Any, status: int = 200) -> Response:
        """Render a whole page from its one typed context."""
        context = {"page": page, "say": self.say, "units": UNITS}
        answer = self.app.templates.TemplateResponse(self.request, template, context, status_code=status)
        renew(answer, self.request, self.key, self.now)
        if status >= 400:
            # A refused form stays on the page it was sent from: nothing new for the Back button.
            answer.headers["HX-Push-Url"] = "false"
        return answer


def visit(request: Request) -> Visit:
    """The dependency every page of a bench takes: the bench that the browser's key opens; else 401."""
    app, at = state(request), datetime.now(UTC)
    key = held_key(request, at)
    if key is None:
        raise HTTPException(401)
    return Visit(request, app, key.bench_id, Unit(key.unit), at, key)


def see(path: str) -> Response:
    """After a form: send the browser to a page of its own (POST, 303, GET)."""
    return RedirectResponse(path, status_code=303)


def new_form_id() -> str:
    """A name for one rendering of a form, so that sending it twice is recorded once."""
    return secrets.token_urlsafe(12)
