"""A fret is marked when its hard note rattles and its soft one does not."""

from __future__ import annotations

from functools import cache

import numpy as np

from tests.listening.rattle import buzz_takes
from tests.listening.strings import RATE, Take
from webapp.physics.buzz_sound import (
    ALL_BRIGHTER,
    AS_LOUD,
    MARK_DB,
    NOT_BOTH,
    BuzzHearing,
    hear_buzzes,
    strengths_db,
)

FRETS = [1, 3, 5, 8]


@cache
def takes() -> list[tuple[Take, list[str]]]:
    return buzz_takes(np.random.default_rng(8), "A1", FRETS, 5, lasts_s=0.4)


def heard(take: Take, noise: float = 1e-3) -> BuzzHearing:
    sound = take.sound + np.random.default_rng(1).normal(0, noise, len(take.sound))
    return hear_buzzes(sound, RATE, take.asked)


def test_strong_buzzes_are_marked_and_clean_notes_are_not() -> None:
    marked: dict[str, list[bool]] = {"clean": [], "slight": [], "strong": []}
    for take, words in takes():
        hearing = heard(take)
        assert hearing.refused is None
        for fret, word in zip(FRETS, words, strict=True):
            marked[word].append((1, fret) in hearing.marks)
    assert np.mean(marked["strong"]) >= 0.8
    assert np.mean(marked["clean"]) <= 0.1


def test_a_note_that_was_not_played_harder_is_not_judged() -> None:
    take, _ = takes()[0]
    softest = take.truth[0]
    begin = int(softest.start_s * RATE)
    end = int((take.truth[1].start_s - 0.1) * RATE)
    twice = np.tile(np.concatenate([np.zeros(RATE // 2), take.sound[begin:end]]), 2)
    twice = twice / np.abs(twice).max() + np.random.default_rng(2).normal(0, 1e-4, len(twice))
    hearing = hear_buzzes(twice, RATE, take.asked[:2])
    assert hearing.unread == {(1, 1): AS_LOUD} and hearing.marks == {}


def test_a_place_heard_once_is_not_judged() -> None:
    take, _ = takes()[0]
    whole = hear_buzzes(take.sound[: int((take.truth[7].start_s - 0.1) * RATE)], RATE, take.asked)
    assert whole.unread[1, 8] == NOT_BOTH and (1, 8) not in whole.marks


def test_silence_is_refused() -> None:
    assert hear_buzzes(np.zeros(RATE), RATE, [(1, 1, 58.0), (1, 1, 58.0)]).refused


def test_what_all_notes_share_is_no_buzz() -> None:
    alike = {(1, fret): np.array([8.0, 10.0, 12.0 + 0.1 * fret]) for fret in range(6)}
    assert max(strengths_db(alike).values()) < 1.0
    apart = strengths_db({**alike, (1, 7): np.array([30.0, 30.0, 30.0])})
    assert apart.pop((1, 7)) > 15.0
    assert max(apart.values()) < 1.0


def test_few_places_are_each_their_own_control() -> None:
    assert strengths_db({(1, 3): np.array([8.0, 10.0])}) == {(1, 3): 9.0}


def test_no_single_band_makes_a_buzz() -> None:
    assert strengths_db({(1, 3): np.array([1.0, 0.0, 2.0, 4.0, 60.0])})[1, 3] < MARK_DB


def test_where_every_note_grows_brighter_none_is_passed_over_in_silence() -> None:
    # Strong buzzes at every fret: what all share is taken off, so that some do not stand out.
    random = np.random.default_rng(9)
    notes, asked = [np.zeros(RATE // 2)], []
    t = np.arange(int(0.8 * RATE)) / RATE
    for fret in range(5):
        hertz = 55.0 * 2 ** (fret / 12)
        asked += [(1, fret, hertz)] * 2
        for level, falls in ((0.1, 2.2), (1.0, 0.8)):
            swing = sum(
                np.exp(-t * 2) * n**-falls * np.sin(2 * np.pi * n * hertz * t + n * n) for n in range(1, 60)
            )
            notes += [level * swing * np.minimum(1, t / 0.003), np.zeros(RATE // 3)]
    sound = np.concatenate(notes)
    hearing = hear_buzzes(sound + random.normal(0, 1e-5, len(sound)), RATE, asked)
    assert hearing.refused is None
    assert set(hearing.marks) | set(hearing.unread) == {(1, fret) for fret in range(5)}
    assert ALL_BRIGHTER in hearing.unread.values()
