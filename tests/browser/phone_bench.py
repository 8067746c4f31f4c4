"""The bench that the phone report looks at: the demo's, three setups under way, a lesson with its class."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from tests.addresses import links
from tests.keyed import keyed
from tests.pages.conftest import Player
from tests.pages.school import School
from tests.pages.walk import Walk
from webapp.app import create_app
from webapp.command.demo import fill
from webapp.store.engine import open_store
from webapp.trade.content import load_trade
from webapp.web.settings import Settings, assets

STUDENTS = 25
# One of three in the class is far off, so that the sheet has something to point at.
RELIEFS_MM = ("0.30", "0.34", "0.90")
WELL: dict[str, str] = {
    **{f"height_{string}": value for string, value in enumerate(("2.1", "2.2", "2.4", "2.6"), start=1)},
    **{f"nut_{string}": "0.4" for string in range(1, 5)},
}


@dataclass(frozen=True)
class Places:
    """Where the pages are that the report looks at."""

    relief: str
    height: str
    buzz: str
    history: str
    series: str
    sheet: str


def filled(data: Path) -> Places:
    """A demo bench in this data folder, ready for `benchside --demo --data`."""
    settings = Settings(data_dir=data, demo=True)
    settings.folder.mkdir(parents=True)
    engine = open_store(settings.database)
    trade = load_trade(assets().content)
    fill(engine, trade, datetime.now(UTC))
    app = create_app(settings, trade, engine)
    player = Player(keyed(app))
    history = longest_history(player)
    sheet = class_sheet(School(app))
    places = Places(
        relief=under_way(player, "Bass at its relief", "read/relief"),
        height=under_way(player, "Bass at its heights", "read/height.3"),
        buzz=under_way(player, "Bass to be listened to", "ask/buzz"),
        history=history,
        series=f"{history}/relief",
        sheet=sheet,
    )
    engine.dispose()
    return places


def under_way(player: Player, name: str, place: str) -> str:
    """A setup of an instrument of its own, done as far as this place; the place's address."""
    setup = player.begin(player.make("bass_4_34", name=name))
    Walk(player, setup).until(place)
    return f"{setup}/{place}"


def longest_history(player: Player) -> str:
    """The history with most in it of the demo's instruments."""
    homes = links(player.get("/").text, r"/instruments/[\w-]{12}")
    return max((f"{home}/history" for home in homes), key=lambda path: len(player.get(path).text))


def class_sheet(school: School) -> str:
    """A lesson that a whole class has handed in; the address of its sheet."""
    for number in range(STUDENTS):
        readings = {"relief": RELIEFS_MM[number % len(RELIEFS_MM)], **WELL}
        school.hand_in(f"Student {number + 1:02}", **readings)
    return f"{school.home}/sheet"
