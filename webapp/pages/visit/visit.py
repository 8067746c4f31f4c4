"""What every page does the same way: whose bench it is, loading, rendering, sending on."""

from __future__ import annotations

import logging
import secrets
from abc import ABC, abstractmethod
from collections.abc import Callable, Hashable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from hashlib import blake2b
from typing import Annotated, Any, TypeVar

from fastapi import Depends, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from webapp.physics.numbers import Unit
from webapp.setups.say import Say
from webapp.store import benches, keys
from webapp.store.engine import Session, reading, writing
from webapp.store.errors import NotFound
from webapp.store.keys import UNUSED_FOR, KeyRow
from webapp.store.trouble import CANNOT
from webapp.trade.content import Trade
from webapp.web.kept import Past
from webapp.web.packed import Packed
from webapp.web.state import AppState, state

LOG = logging.getLogger("benchside")


def secret_of(request: Request) -> str:
    """The secret that the browser brought, or nothing."""
    return request.cookies.get(state(request).cookie, "")


def held_key(request: Request, at: datetime) -> KeyRow | None:
    """The key that the browser holds, if it is good; its use is remembered, at most once a minute."""
    with reading(state(request).engine) as session:
        key = find_key(session, request, at)
    if key is not None:
        remember_use(request, key, at)
    return key


def find_key(session: Session, request: Request, at: datetime) -> KeyRow | None:
    """The key that the browser holds, if it is good; nothing is written."""
    secret = secret_of(request)
    key = keys.find(session, secret, at) if secret else None
    if key is not None:
        # For the line in the log.
        request.state.key, request.state.bench = key.id, key.bench_id
    return key


def remember_use(request: Request, key: KeyRow, at: datetime) -> None:
    """Keeps when the key was used, at most once a minute."""
    if keys.is_due(key, at):
        with where_it_can("a key's use"), writing(state(request).engine) as session:
            keys.touch(session, key.id, at)


@contextmanager
def where_it_can(what: str) -> Iterator[None]:
    """Keeps something on the way to a page. Where nothing can be written, what is there can still be read."""
    try:
        yield
    except CANNOT as problem:
        LOG.warning("%s was not kept", what, exc_info=problem)


def hand_over(answer: Response, app: AppState, secret: str) -> None:
    """Puts a key into the browser.

    Lax, not Strict: a link to a page of the bench that was kept or sent to oneself must find the key. What
    changes anything is guarded by its origin, whatever the cookie does.
    """
    answer.set_cookie(
        app.cookie,
        secret,
        max_age=int(UNUSED_FOR.total_seconds()),
        path="/",
        secure=app.settings.secure,
        httponly=True,
        samesite="lax",
    )


def renew(answer: Response, request: Request, key: KeyRow, at: datetime) -> None:
    """A browser forgets a cookie so many days after it was set, however often it was used; so, daily."""
    if key.last_used_at.date() != at.date():
        hand_over(answer, state(request), secret_of(request))


def take_away(answer: Response, app: AppState) -> None:
    """Takes the key out of the browser."""
    answer.delete_cookie(app.cookie, path="/", secure=app.settings.secure, httponly=True, samesite="lax")


def caller(request: Request) -> str:
    """The address that asks; behind a trusted proxy, the one the proxy names."""
    return request.client.host if request.client else ""


def note(what: str, request: Request, **told: str) -> None:
    """One line in the log about who came in, or did not; never with a secret."""
    LOG.info(what, extra={"client": caller(request), **told})


def guessed_name(user_agent: str, *, is_here: bool = False) -> str:
    """A kind guess at what to call a device."""
    if is_here:
        return "Benchside’s own computer"
    if "iPad" in user_agent or "Tablet" in user_agent:
        return "Tablet"
    if "Android" in user_agent:
        return "Phone" if "Mobile" in user_agent else "Tablet"
    if "iPhone" in user_agent or "Mobile" in user_agent:
        return "Phone"
    return "Computer"


Found = TypeVar("Found")
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
    def minute(self) -> datetime:
        """The time by which an instrument is judged: what was worked out in it is as good as anew."""
        return self.now.replace(second=0, microsecond=0)

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
        return past.once(what, work, (self.unit, self.minute))

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

    @property
    def at_hand(self) -> frozenset[str] | None:
        """The keys of the tools at hand; None until the player was asked."""
        return None if self.key.tools is None else frozenset(self.key.tools.split())

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

    def remember_tools(self, tools: Sequence[str]) -> None:
        """Keep which tools the player has at hand."""
        if self.at_hand != frozenset(tools):
            with self.writing() as session:
                benches.set_tools(session, self.bench_id, tools)

    def render(self, template: str, page: Any, status: int = 200) -> Response:
        """Render a whole page from its one typed context, and keep the key for another while."""
        return self._sent(self.drawn(template, page, status), status)

    def render_kept(self, template: str, page: Hashable) -> Response:
        """The same for a page that is plain values: what looks the same is drawn and packed once."""
        what = (template, page, self.unit)
        packed = self.app.rendered.of(what, lambda: Packed.of(self._text(template, page)))
        return self._sent(packed.answer(self.request.headers), 200)

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


def form_id_at(*state: object) -> str:
    """A name for the forms of a page that is shown in one state of what is kept: what they do changes it, so
    that sending one twice is recorded once."""
    return blake2b("\x1f".join(map(str, state)).encode(), digest_size=9).hexdigest()


def new_form_id() -> str:
    """A name for one rendering of a form, so that sending it twice is recorded once."""
    return secrets.token_urlsafe(12)
