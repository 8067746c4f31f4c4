"""A client that holds a key, as a browser does that was let in."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from fastapi import FastAPI
from starlette.testclient import TestClient

from webapp.store import benches, keys
from webapp.store.engine import writing

ORIGIN = "http://127.0.0.1:8765"


def cookies_of(app: FastAPI, bench_id: str = "", device: str = "A test") -> dict[str, str]:
    """A new key to a bench (the player's own, unless told), as the cookie that carries it."""
    state = app.state.bench_app
    with writing(state.engine) as session:
        own = benches.get_or_create_local_bench(session, is_demo=state.settings.demo).id
        secret = keys.make_key(session, bench_id or own, device, datetime.now(UTC))
    return {state.cookie: secret}


def keyed(app: FastAPI, bench_id: str = "", device: str = "A test", **options: Any) -> TestClient:
    """A client at the app's own address, with a key to a bench (the player's own, unless told)."""
    return holding(app, cookies_of(app, bench_id, device), **options)


def holding(app: FastAPI, cookies: Mapping[str, str], **options: Any) -> TestClient:
    """A client with these cookies."""
    client = TestClient(app, base_url=ORIGIN, headers={"Origin": ORIGIN}, **options)
    for name, secret in cookies.items():
        # With its host, so that a cookie that the app sets takes this one's place.
        client.cookies.set(name, secret, domain="127.0.0.1", path="/")
    return client
