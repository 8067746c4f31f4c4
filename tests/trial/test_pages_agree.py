"""The pages and the seat are one: a simulated player who goes by the real pages is asked for the same
places in the same order, is told the same turns, and is left with the same words as at the seat."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest

from tests.keyed import keyed
from tests.pages.conftest import Player, plain
from tests.pages.driven import Clock, Driver, Screen, Turned, clocked
from tests.trial import seat as seat_module
from tests.trial.run import START, Trial, hands_of
from tests.trial.seat import Seat
from tests.trial.tools import Reading
from tests.trial.world import WORLDS
from webapp.app import create_app
from webapp.setups.states import Word, said
from webapp.store.engine import open_store
from webapp.trade.content import load_trade
from webapp.trade.words import Check
from webapp.web.settings import Settings, assets

# A bass by gauge, a guitar by card, and one whose rod, slips and saddles make trouble.
SAMPLE = (("plain", 11, 4), ("card", 11, 9), ("harsh", 11, 1))
READ = (Check.RELIEF, Check.HEIGHT, Check.NUT, Check.INTONATION, Check.PICKUPS)


class Both:
    """Sits at the seat with the hands that go by the pages, and holds every step of theirs against it."""

    def __init__(self, seat: Seat, driver: Driver) -> None:
        self.seat, self.driver = seat, driver
        driver.on_read, driver.on_turn, driver.on_other = self.read, self.turned, self.other
        self.steps = 0

    def asked(self, do: str, slot: str = "") -> dict[str, object]:
        ask = self.seat.next()
        self.steps += 1
        assert (ask["do"], ask.get("slot") if slot else "") == (do, slot), self.driver.trail
        return ask

    def read(self, slot: str, reading: Reading) -> None:
        self.asked("read", slot)
        # A page asks no tuner for its division.
        step = None if reading.method == "tuner" else reading.step
        self.seat.read(slot, reading.method, value=reading.value, answer=reading.answer, step=step)

    def turned(self, turned: Turned) -> None:
        ask = self.asked("turn", turned.slot)
        assert ask["eighths"] == turned.said, (turned, self.driver.trail)
        self.seat.turn(turned.slot, turned.made, outcome=turned.ended)

    def other(self, what: str, said: list[str]) -> None:
        if what == "board":
            self.asked("board")
            self.seat.board([(int(s), int(f)) for s, f in (mark.split(":") for mark in said)])
        elif what == "rest":
            self.asked("rest")
            self.seat.wait(12)
        else:
            assert self.asked("question")["name"] == what
            self.seat.answer(what, said)
        self.driver.clock.now = self.seat.now


@pytest.fixture
def at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a page several things are told at one time, so that the seat's clock stands still meanwhile too."""
    monkeypatch.setattr(seat_module, "READING_MINUTES", 0.0)
    monkeypatch.setattr(seat_module, "TURN_MINUTES", 0.0)


@pytest.fixture
def clock() -> Clock:
    return Clock(START)


@pytest.fixture
def player(tmp_path: Path, clock: Clock) -> Iterator[Player]:
    engine = open_store(tmp_path / "bench.sqlite3")
    app = create_app(Settings(tmp_path), load_trade(assets().content), engine)
    with clocked(app, clock), keyed(app) as client:
        yield Player(client)
    engine.dispose()


@pytest.mark.parametrize(("world", "seed", "index"), SAMPLE)
def test_the_pages_ask_say_and_judge_as_the_seat_does(
    player: Player, clock: Clock, at_once: None, world: str, seed: int, index: int
) -> None:
    hands = hands_of(Trial(seed=seed, world=WORLDS[world]), index)
    kind, told = hands.instrument.kind.key, dict(hands.instrument.told)
    setup = player.begin(player.make(kind, **told))
    driver = Driver(player.client, hands, clock, setup)
    both = Both(Seat(kind, told=told, start=START), driver)
    screen = driver.get(f"{setup}/next")
    while screen.tail != "finish":
        screen = driver.step(screen)
    assert both.steps > 20
    assert words_on_pages(player, setup) == words_of(both.seat)
    assert told_the_repairer(both.seat) == told_on(screen)
    assert both.seat.next()["do"] == "finish"


def words_of(seat: Seat) -> dict[str, list[str]]:
    """The seat's words, said as each check says them, in the order of its places."""
    found: dict[str, list[str]] = {check.value: [] for check in READ}
    for slot, state in seat.state().items():
        check = Check(slot.partition(".")[0])
        found[check.value].append(said(check, Word(state["word"])))
    return found


def words_on_pages(player: Player, setup: str) -> dict[str, list[str]]:
    """The words beside the places of each check's page."""
    found = {}
    for check in READ:
        page = player.get(f"{setup}/check/{check.value}").text
        states = re.findall(r'<span class="state">.*?</svg><b>(.*?)</b>', page, re.DOTALL)
        found[check.value] = [unescape(word) for word in states]
    return found


def told_the_repairer(seat: Seat) -> set[str]:
    """What is left for a repairer, as the seat tells it one by one at the end."""
    told = set()
    while (ask := seat.next())["do"] == "repairer":
        told.add(str(ask["why"]))
    return told


def told_on(screen: Screen) -> set[str]:
    """The same from the last page's list."""
    items = re.findall(r"<b>Repairer:</b>(.*?)</span>", screen.html, re.DOTALL)
    return {unescape(plain(item)).strip() for item in items}
