"""What every page does the same way: whose bench it is, loading, rendering, sending on."""

from __future__ import annotations

import secrets
from abc import ABC, abstractmethod
from collections.abc import Callable, Hashable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from typing import Annotated, Any, TypeVar

from fastapi import Depends, HTTPException, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from webapp.pages.visit.keyring import find_key, held_key, remember_use, renew
from webapp.physics.lengths import Unit
from webapp.setups.say import Say
from webapp.store import benches, keys
from webapp.store.engine import Session, reading, writing
from webapp.store.errors import NotFound
from webapp.store.keys import KeyRow
from webapp.trade.content import Trade
from webapp.web.kept import Past
from webapp.web.state import AppState, state

Found = TypeVar("Found")
# Nothing that anybody types is this: it is made anew with each start.
FORM_ID_HERE = secrets.token_urlsafe(12)
UNITS: tuple[tuple[str, str], ...] = (
    (Unit.mm.value, "mm"),
    (Unit.inch.value, "inches"),
    (Unit.thou.value, "thou"),
    (Unit.sixty_fourths.value, "64ths"),
)


@dataclass(frozen=True)
class Onlooker(ABC):
    """One request that may look at one bench. What may be done besides looking, a Visit adds."""

    request: Request
    app: AppState
    now: datetime

    @property
    @abstractmethod
    def bench_id(self) -> str: ...

    @property
    @abstractmethod
    def unit(self) -> Unit:
        """The unit in which the bench's lengths are said."""

    @property
    @abstractmethod
    def air_mark(self) -> int:
        """Another number means another air on the bench."""

    @abstractmethod
    def opened(self) -> AbstractContextManager[Session]:
        """A session of the store, for whoever may look."""

    @property
    def trade(self) -> Trade:
        return self.app.trade

    @cached_property
    def say(self) -> Say:
        """Numbers in the bench's unit."""
        return Say(self.unit)

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session that only looks; what is not on this bench answers 404."""
        try:
            with self.opened() as session:
                yield session
        except NotFound as missing:
            raise HTTPException(404) from missing

    def once(self, past: Past, what: tuple[Hashable, ...], work: Callable[[], Found]) -> Found:
        """What follows from an instrument's past, in this unit and at this time."""
        return past.once(what, work, (self.unit, self.now.replace(second=0, microsecond=0)))

    def drawn(self, template: str, page: Any, status: int = 200) -> Response:
        """A whole page from its one typed context."""
        context = {"page": page, "say": self.say, "units": UNITS}
        return self.app.templates.TemplateResponse(self.request, template, context, status_code=status)


@dataclass(frozen=True)
class Visit(Onlooker):
    """One request on one bench: the one that the browser's key opens.

    The key is asked for with the first thing that is asked of the bench, and there is no other way to a
    bench's id: without a good key whatever was begun ends there, with 401.
    """

    @cached_property
    def key(self) -> KeyRow:
        """The key that the browser holds."""
        key = held_key(self.request, self.now)
        if key is None:
            raise HTTPException(401)
        return key

    def needs_a_key(self) -> None:
        """For a page that asks nothing else of the bench."""
        _ = self.key

    @property
    def bench_id(self) -> str:
        return self.key.bench_id

    @property
    def unit(self) -> Unit:
        return Unit(self.key.unit)

    @property
    def air_mark(self) -> int:
        return self.key.air_mark

    @contextmanager
    def opened(self) -> Iterator[Session]:
        """The first session looks for the key too, which spares one of its own."""
        if "key" not in vars(self):
            with reading(self.app.engine) as session:
                key = find_key(session, self.request, self.now)
                if key is None:
                    raise HTTPException(401)
                vars(self)["key"] = key
                if not keys.is_due(key, self.now):
                    yield session
                    return
            # Once that session is closed: nothing is written while this request still reads.
            remember_use(self.request, key, self.now)
        with reading(self.app.engine) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A session whose work is kept whole or not at all; what is not on this bench answers 404."""
        try:
            with writing(self.app.engine, self.bench_id) as session:
                yield session
        except NotFound as missing:
            raise HTTPException(404) from missing

    def remember_unit(self, unit: Unit) -> None:
        """Keep the unit the player chose last."""
        if unit is not self.unit:
            with self.writing() as session:
                benches.set_unit(session, self.bench_id, unit.value)

    def render(self, template: str, page: Any, status: int = 200) -> Response:
        """Render a whole page from its one typed context, and keep the key for another while."""
        return self._sent(self.drawn(template, page, status), status)

    def render_kept(self, template: str, page: Hashable, form_id: str = "") -> Response:
        """The same for a page that is plain values: what looks the same is drawn once.

        Its forms carry FORM_ID_HERE, and each answer a name of its own in that place.
        """
        what = (template, page, self.unit)
        text = self.app.rendered.of(what, lambda: self._text(template, page))
        return self._sent(HTMLResponse(text.replace(FORM_ID_HERE, form_id)), 200)

    def _text(self, template: str, page: Any) -> str:
        context = {"request": self.request, "page": page, "say": self.say, "units": UNITS}
        return self.app.templates.get_template(template).render(context)

    def _sent(self, answer: Response, status: int) -> Response:
        renew(answer, self.request, self.key, self.now)
        if status >= 400:
            # A refused form stays on the page it was sent from: nothing new for the Back button.
            answer.headers["HX-Push-Url"] = "false"
        return answer


async def visit(request: Request) -> Visit:
    """The dependency that every page of a bench takes. Not in a thread: it asks for nothing yet."""
    return Visit(request, state(request), datetime.now(UTC))


# A page of a bench takes its visit like this.
Visiting = Annotated[Visit, Depends(visit)]


def see(path: str) -> Response:
    """After a form: send the browser to a page of its own (POST, 303, GET)."""
    return RedirectResponse(path, status_code=303)


def new_form_id() -> str:
    """A name for one rendering of a form, so that sending it twice is recorded once."""
    return secrets.token_urlsafe(12)
