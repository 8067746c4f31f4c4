"""Puts the app together: state, templates, static files, guard, pages, and what is said on failure."""

from __future__ import annotations

from threading import Lock

from fastapi import APIRouter, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from sqlalchemy import Engine
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import ClientDisconnect
from starlette.routing import BaseRoute, Match
from starlette.types import Receive, Scope, Send
from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

from webapp.pages import PLACES, Shape, router_of, routes_of, shape_of
from webapp.store import benches
from webapp.store.engine import writing
from webapp.store.errors import Damaged
from webapp.store.trouble import CANNOT
from webapp.trade.content import Trade
from webapp.web.guard import Guard, security_headers
from webapp.web.log import AccessLog
from webapp.web.settings import Settings, assets, build_of
from webapp.web.state import AppState, state
from webapp.web.statics import StaticFolder
from webapp.web.templating import templates_of

# Takes a quarter to a half less time than the highest, for 3 % more bytes.
GZIP_LEVEL = 4
SENTENCES = {
    400: ("That could not be read", "The page sent something that could not be read. Go back and try again."),
    404: ("Nothing here", "There is no page at this address. It may have been mistyped or moved."),
    405: ("Not that way", "This page cannot be used like that. Start again from the bench."),
    410: ("No longer good", "This link was used already, or is too old. Ask for a fresh one."),
    413: ("Too much at once", "That is more than Benchside takes at once (1 MB). Try something shorter."),
    429: ("Too many tries", "That was tried too often. Wait ten minutes, then try again."),
    500: ("That did not work", "Something went wrong on this side. What you saved before is safe."),
}


def create_app(settings: Settings, trade: Trade, engine: Engine) -> FastAPI:
    """The whole app, ready to serve; its pages come with their first addresses."""
    folders = assets()
    app = FastAPI(title="Benchside", docs_url=None, redoc_url=None, openapi_url=None)
    cookie, build = _cookie(settings, engine), build_of(folders)
    app.state.bench_app = AppState(settings, trade, engine, templates_of(folders), cookie, build)
    # The last one added is the first to see a request.
    app.add_middleware(GZipMiddleware, minimum_size=1000, compresslevel=GZIP_LEVEL)
    app.add_middleware(Guard, settings=settings)
    app.add_middleware(AccessLog)
    if settings.proxies:
        app.add_middleware(ProxyHeadersMiddleware, trusted_hosts=list(settings.proxies))
    app.mount("/static", StaticFolder(folders.static), name="static")
    app.router.routes.append(Pages(app))
    app.add_exception_handler(HTTPException, _on_refusal)
    app.add_exception_handler(RequestValidationError, _on_odd_address)
    app.add_exception_handler(ClientDisconnect, _on_gone)
    app.add_exception_handler(Damaged, _on_damage)
    for problem in CANNOT:
        app.add_exception_handler(problem, _on_trouble)
    app.add_exception_handler(Exception, _on_failure)
    return app


class Pages(BaseRoute):
    """All pages, parted by the shapes of their addresses, so that few are asked whether one is theirs; the
    pages of a word come with the first address that begins with it.
    """

    def __init__(self, app: FastAPI) -> None:
        self._app, self._lock = app, Lock()
        self._words = {word for words in PLACES.values() for word in words}
        self._let_in: set[str] = set()
        self._of_shape: dict[Shape, APIRouter] = {}

    @property
    def routes(self) -> list[BaseRoute]:
        """Every page, loaded now if it was not."""
        return [route for place in PLACES for route in router_of(place).routes]

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        mine = scope["type"] == "http" and shape_of(scope["path"])[0] in self._words
        return (Match.FULL if mine else Match.NONE), {}

    async def handle(self, scope: Scope, receive: Receive, send: Send) -> None:
        shape = shape_of(scope["path"])
        if shape[0] not in self._let_in:
            await run_in_threadpool(self._load, shape[0])
        if shape not in self._of_shape:
            raise HTTPException(404)
        await self._of_shape[shape](scope, receive, send)

    def _load(self, word: str) -> None:
        """The routers of a word's addresses, each shape in the order of asking."""
        with self._lock:
            if word in self._let_in:
                # Somebody else asked at the same moment, and uses them already.
                return
            for shape, routes in routes_of(word).items():
                pages = APIRouter(dependency_overrides_provider=self._app)
                # One by one: a router that is included is asked twice for each page.
                for route in routes:
                    pages.add_api_route(route.path, route.endpoint, methods=sorted(route.methods or ()))
                self._of_shape[shape] = pages
            self._let_in.add(word)


def _cookie(settings: Settings, engine: Engine) -> str:
    """Over https a browser also sees to it that nobody else can set a cookie of this name."""
    with writing(engine, "instance") as session:
        name = f"benchside_{benches.get_or_make(session).id}"
    return f"__Host-{name}" if settings.secure else name


def error_page(request: Request, status: int) -> Response:
    """A small page that says in one sentence what happened, and leads back to the bench."""
    title, message = SENTENCES.get(status, SENTENCES[400] if status < 500 else SENTENCES[500])
    context = {"title": title, "message": message, "href": "/", "link": "Back to the bench"}
    templates = state(request).templates
    return templates.TemplateResponse(request, "pages/visit/error.html", context, status_code=status)


def _knock_page(request: Request, status: int) -> Response:
    """What a visitor without a key sees: how to get in."""
    app = state(request)
    app_words = {"hosted": app.settings.hosted, "demo": app.settings.demo}
    return app.templates.TemplateResponse(request, "pages/door/knock.html", app_words, status_code=status)


def _on_refusal(request: Request, refusal: Exception) -> Response:
    assert isinstance(refusal, HTTPException)
    page = _knock_page if refusal.status_code == 401 else error_page
    response = page(request, refusal.status_code)
    response.headers.update(refusal.headers or {})
    # Nothing new for the Back button: the page that was left still holds what was typed.
    response.headers["HX-Push-Url"] = "false"
    return response


def _on_odd_address(request: Request, _odd: Exception) -> Response:
    """A form's fields are judged by its page; what is left here is an address that cannot be meant."""
    return error_page(request, 404)


def _on_gone(_request: Request, _gone: Exception) -> Response:
    """Whoever left in the middle of a sentence hears nothing any more, and that is no fault of ours."""
    return Response(status_code=400)


async def _on_trouble(request: Request, trouble: Exception) -> Response:
    """Whoever has to say it is loaded when it is to be said, here and below."""
    from webapp.pages.visit.answering import on_trouble

    return await on_trouble(request, trouble)


def _on_damage(request: Request, damage: Exception) -> Response:
    from webapp.pages.visit.damaged import on_damage

    return on_damage(request, damage)


def _on_failure(request: Request, _failure: Exception) -> Response:
    """Answered outside the guard, so it carries the guard's headers itself. A disk that changed what was kept
    may be behind it."""
    from webapp.pages.visit.damaged import explained

    response = explained(request) or error_page(request, 500)
    response.headers.update(security_headers(state(request).settings))
    return response
