"""What a player types stays text, wherever it is shown."""

from __future__ import annotations

import html

from tests.pages.conftest import Player
from tests.world import World, routes_of

MARKUP = "<script>alert(1)</script>"
NAMES = (
    MARKUP,
    "\"'><img src=x onerror=alert(1)>",
    "{{ 7*7 }}{% raw %}",
    "**bold** [a](javascript:alert(1))",
)


def test_names_and_notes_full_of_markup_stay_text(player: Player) -> None:
    world = World(player.client.app)  # type: ignore[arg-type]
    for typed in NAMES:
        _type_and_look(world, typed)


def _type_and_look(world: World, typed: str) -> None:
    mine = Player(world.own)
    home, setup = world.address("/instruments/{instrument_id}"), world.address("/setups/{setup_id}")
    mine.fill(f"{home}/edit", name=typed)
    mine.fill(f"{setup}/log", note=typed)
    shown = 0
    for method, path in routes_of(world.app.routes):
        if method != "GET" or path.startswith("/static"):
            continue
        answer = world.own.get(world.address(path))
        if not answer.headers.get("Content-Type", "").startswith("text/html"):
            continue
        text = answer.text
        assert typed not in text or "<" not in typed, path
        for element in ("<script>alert", "<img src=x", "<strong>bold", 'href="javascript', "49{"):
            assert element not in text, (path, element)
        shown += (
            html.escape(typed) in text
            or html.escape(typed, quote=False) in text
            or typed in html.unescape(text)
        )
    assert shown >= 5, typed
