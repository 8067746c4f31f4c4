"""Sits players down: the same instrument and the same tools, once with a seat and once with the recipe."""

from __future__ import annotations

import traceback
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import partial
from importlib import import_module
from time import perf_counter
from typing import Any

import numpy as np

from tests.trial.generator import draw
from tests.trial.hands import Hands
from tests.trial.instrument import Instrument
from tests.trial.player import Sitting, obey
from tests.trial.reach import Reach, is_false_repairer, reach_of
from tests.trial.recipe import Recipe
from tests.trial.score import EndState, Result, advice_faults, counts, end_state
from tests.trial.tools import kit_of
from tests.trial.world import PLAIN, World

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
SEAT = "tests.trial.seat:Seat"
NIGHT_HOURS = 12.0
Tell = Callable[[str], None]


@dataclass(frozen=True)
class Trial:
    """Everything that decides how it comes out. `seat` is module:Class; empty leaves the seat out."""

    seed: int = 1
    world: World = PLAIN
    seat: str = SEAT
    recipe: bool = True
    passes: int = 2


@dataclass(frozen=True)
class Case:
    """One instrument's results: the recipe's, and the seat's passes in order."""

    index: int
    recipe: Result | None
    passes: tuple[Result, ...]


def try_one(trial: Trial, index: int, tell: Tell | None = None) -> Case:
    recipe = _by_recipe(trial, index, tell) if trial.recipe else None
    return Case(index, recipe, tuple(_by_seat(trial, index, tell)) if trial.seat else ())


def hands_of(trial: Trial, index: int) -> Hands:
    """A player with clean hands at the untouched instrument."""
    kit = kit_of(trial.seed, index, trial.world)
    return Hands(
        draw(trial.seed, index, trial.world), kit, trial.world, np.random.default_rng([trial.seed, index, 2])
    )


def _by_recipe(trial: Trial, index: int, tell: Tell | None) -> Result:
    hands = hands_of(trial, index)
    reach, start = reach_of(hands.instrument), end_state(hands.instrument)
    began = perf_counter()
    Recipe(hands).follow()
    took = perf_counter() - began
    hands.instrument.wait(NIGHT_HOURS)
    if tell:
        tell(f"recipe: {len(hands.steps)} steps")
    return _result(index, hands, reach, start, Sitting(ended=True), took)


def _by_seat(trial: Trial, index: int, tell: Tell | None) -> list[Result]:
    """One pass, a night, and then another setup of the same instrument if the seat has `another`."""
    hands = hands_of(trial, index)
    module, name = trial.seat.split(":")
    made: Any = getattr(import_module(module), name)
    seat = made(hands.instrument.kind.key, told=dict(hands.instrument.told), start=START)
    results: list[Result] = []
    for number in range(trial.passes):
        if tell:
            tell(f"pass {number + 1}: {describe(hands.instrument)}; {hands.kit.relief}, {hands.kit.height}")
        results.append(_one_pass(seat, hands, index, tell))
        if number + 1 == trial.passes or not hasattr(seat, "another") or not results[-1].ended:
            break
        try:
            # A night for the seat too; the instrument has had its own. The next setup begins the day after.
            seat.wait(NIGHT_HOURS)
            seat = seat.another()
        except Exception as error:  # as in a pass: the fault is a result
            results[-1] = replace(results[-1], failure=f"another: {type(error).__name__}: {error}")
            break
        hands.steps = []
    return results


def _one_pass(seat: Any, hands: Hands, index: int, tell: Tell | None) -> Result:
    reach, start = reach_of(hands.instrument), end_state(hands.instrument)
    began, failure, sitting = perf_counter(), "", Sitting()
    try:
        sitting = obey(seat, hands, partial(is_false_repairer, at_start=reach), tell)
    except Exception as error:  # a seat that breaks is a result, and the other instruments go on
        failure = f"{type(error).__name__}: {error}"
        if tell:
            tell(traceback.format_exc())
    took = perf_counter() - began
    hands.instrument.wait(NIGHT_HOURS)
    return _result(index, hands, reach, start, sitting, took, failure)


def _result(
    index: int,
    hands: Hands,
    reach: Reach,
    start: EndState,
    sitting: Sitting,
    seconds: float,
    failure: str = "",
) -> Result:
    end = end_state(hands.instrument)
    faulty = hands.instrument.high_fret is not None or bool(hands.instrument.loose_notes)
    faults: Any = advice_faults(sitting, reach, end)
    return Result(
        index, hands.instrument.kind.key, hands.kit.relief, hands.kit.height, faulty, reach, start, end,
        counts(hands.steps), ended=sitting.ended, looks=tuple(sitting.looks), seconds=seconds,
        failure=failure, words=sitting.words, room_left=reach_of(hands.instrument).cents, **faults,
    )  # fmt: skip


def describe(made: Instrument) -> str:
    """What is true of it, in a line."""
    heights = " ".join(f"{made.height(string):.2f}" for string in made.strings)
    cents = " ".join(f"{made.cents(string, 12):+.1f}" for string in made.strings)
    high = " ".join(f"{made.cents(string, made.kind.high_fret):+.1f}" for string in made.strings)
    rod = f"rod {made.rod.response_mm:.3f} play {made.rod.play:.1f}{' seized' if made.rod.seized else ''}"
    fault = f" high fret {made.high_fret}" if made.high_fret else " loose part" if made.loose_notes else ""
    bridge = (
        f"{made.bridge.kind} {made.bridge.height_pitch_mm:g}/{made.bridge.back_pitch_mm:g} told {made.told}"
    )
    return (
        f"{made.kind.key}, relief {made.standard_relief:.2f}, heights {heights}, 12ths {cents}, high {high}, "
        f"{rod}, {bridge}{fault}"
    )
