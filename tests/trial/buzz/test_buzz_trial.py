"""A sample of the buzz trial, with bounds that it can fail; `python -m tests.trial.buzz` prints the whole."""

from __future__ import annotations

import numpy as np
import pytest

from tests.trial.buzz.__main__ import Trial, many
from tests.trial.buzz.report import Result

SEED, COUNT = 17, 60


@pytest.fixture(scope="module")
def results() -> list[Result]:
    return many(Trial(SEED), COUNT)


def test_the_planted_cause_is_first_or_second_most_often(results: list[Result]) -> None:
    assert np.mean([result.right for result in results]) >= 0.80
    assert np.mean([result.near for result in results]) >= 0.90


def test_a_cause_said_to_be_nearly_sure_is_seldom_wrong(results: list[Result]) -> None:
    sure = [result for result in results if result.chance >= 0.9]
    assert len(sure) >= 32
    assert np.mean([result.right for result in sure]) >= 0.93


def test_what_is_said_of_the_first_cause_is_kept_on_average(results: list[Result]) -> None:
    said, right = ([getattr(r, what) for r in results] for what in ("chance", "right"))
    assert abs(np.mean(said) - np.mean(right)) <= 0.08


def test_the_finger_is_found_by_its_notes_and_by_what_was_asked(results: list[Result]) -> None:
    own = [result for result in results if result.key == "technique"]
    assert sum(result.right for result in own) >= 4
