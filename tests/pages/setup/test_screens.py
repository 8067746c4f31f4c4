"""How many screens and forms a whole setup takes, from the first page of an empty bench to the report."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime

import numpy as np
import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from tests.pages.driven import Clock, Driver, Screen, clocked
from tests.trial.generator import draw
from tests.trial.hands import Hands
from tests.trial.tools import SIGMA, Kit
from tests.trial.world import World

MOST_SCREENS, MOST_POSTS = 45, 35
# Nothing goes wrong here but what always does: the scatter of hands and tools.
CALM = World(
    "calm", slips=0.0, wrong_way=0.0, stuck=0.0, reversed=0.0, short_room=0.0, high_fret=0.0, loose=0.0
)
# Basses of the trial whose rod, heights, saddles and pickups all want turning.
BASSES = (("feeler", "ruler", 1, 50), ("feeler", "ruler", 2, 36), ("card", "gauge", 1, 50))


@pytest.fixture
def app(client: TestClient) -> FastAPI:
    app = client.app
    assert isinstance(app, FastAPI)
    return app


@pytest.fixture
def clock(app: FastAPI) -> Iterator[Clock]:
    clock = Clock(datetime(2026, 3, 2, 9, 0, tzinfo=UTC))
    with clocked(app, clock):
        yield clock


def beginner(relief: str, height: str, seed: int, index: int) -> Hands:
    """A player with these tools at one of the trial's basses, its threads told."""
    kit = Kit(
        relief=relief, height=height, nut="card" if relief == "card" else "feeler", gauge_step_mm=0.1,
        tuner_step_cents=1.0, card_mm=0.30, bias=dict.fromkeys(SIGMA, 0.0), noise=1.0, slips=0.0,
    )  # fmt: skip
    made = draw(seed, index, CALM)
    assert made.kind.key == "bass_4_34"
    return Hands(made, kit, CALM, np.random.default_rng([seed, index, 2]))


def from_the_bench(driver: Driver) -> Screen:
    """The empty bench, a new instrument, and a setup of it begun: as a newcomer goes."""
    driver.get("/")
    form = driver.get("/instruments/new")
    home = driver.send(form, {"kind": "bass_4_34"})
    begun = driver.send(home, {}, action=f"{home.path.removesuffix('/assumed')}/setups")
    driver.setup = begun.path.removesuffix("/ask/start")
    return begun


@pytest.mark.parametrize(("relief", "height", "seed", "index"), BASSES)
def test_a_whole_setup_takes_few_screens_and_forms(
    client: TestClient, clock: Clock, capsys: pytest.CaptureFixture[str], relief: str, height: str, seed: int,
    index: int,
) -> None:  # fmt: skip
    hands = beginner(relief, height, seed, index)
    driver = Driver(client, hands, clock, "")
    last = driver.to_the_report(from_the_bench(driver))
    turned = Counter(step.check for step in hands.steps if step.do == "turn")
    readings = sum(step.do == "read" for step in hands.steps)
    with capsys.disabled():
        print(f"\n{relief} and {height}: {driver.screens} screens, {driver.posts} forms, "
              f"{readings} readings, turns {dict(turned)}")  # fmt: skip
    assert "Report of a setup" in last.html
    # A setup that has something to do: everything but the pickups is turned, and most of it more than once.
    assert turned["relief"] >= 2 and turned["height"] >= 1 and turned["intonation"] >= 3
    assert sum(turned.values()) >= 9
    assert driver.screens <= MOST_SCREENS, driver.trail
    assert driver.posts <= MOST_POSTS, driver.trail


def test_every_page_is_counted_once(client: TestClient, clock: Clock) -> None:
    """The figures above count what a player sees: each page shown, and each form sent."""
    driver = Driver(client, beginner("feeler", "ruler", 1, 50), clock, "")
    begun = from_the_bench(driver)
    assert (driver.screens, driver.posts) == (4, 2)
    driver.step(begun)
    assert (driver.screens, driver.posts) == (5, 3)
    assert driver.trail[-2:] == ["ask/start", "read/relief"]
