"""Names addresses by their route, as the server's own log does: `POST /setups/{setup_id}/read/{slot_key}`."""

from __future__ import annotations

from functools import cache
from re import Pattern

from starlette.routing import compile_path

from tests.world import routes_of
from webapp.pages import PLACES, router_of


@cache
def _all() -> tuple[tuple[str, str, Pattern[str]], ...]:
    found = (pair for place in PLACES for pair in routes_of(router_of(place).routes))
    return tuple((method, path, compile_path(path)[0]) for method, path in found)


@cache
def route_of(method: str, path: str) -> str:
    """The method and the route; the address's blanks stay blanks."""
    path = path.partition("?")[0]
    if path.startswith("/static/"):
        return f"{method} /static"
    for known_method, route, pattern in _all():
        if method == known_method and pattern.match(path):
            return f"{method} {route}"
    return f"{method} (none)"
