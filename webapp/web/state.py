"""What every page needs and no request changes."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fastapi import Request
from fastapi.templating import Jinja2Templates
from sqlalchemy import Engine

from webapp.trade.content import Trade
from webapp.web.kept import KeptPasts, Latest
from webapp.web.packed import Packed
from webapp.web.settings import Settings

if TYPE_CHECKING:
    from webapp.setups.air_log.daily import DailyAir
    from webapp.setups.seasons.drift import Drift


@dataclass(frozen=True)
class AppState:
    settings: Settings
    trade: Trade
    engine: Engine
    templates: Jinja2Templates
    cookie: str
    """The name of the cookie that holds a key: this store's own, for cookies ignore ports."""
    build: str = ""
    """This very code and content (settings.build_of): what another one worked out is worked out anew."""
    kept: KeptPasts = field(default_factory=KeptPasts)
    air: Latest[DailyAir] = field(default_factory=lambda: Latest(64))
    rendered: Latest[Packed] = field(default_factory=lambda: Latest(32))
    drifts: Latest[Drift] = field(default_factory=lambda: Latest(96))


def state(request: Request) -> AppState:
    """The app's state, for a page: `state(request)`, or `Depends(state)`."""
    found = request.app.state.bench_app
    assert isinstance(found, AppState)
    return found
