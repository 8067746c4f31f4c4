"""A take of notes is read to a fraction of a cent, or refused with why."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from tests.listening.damage import draw_phone, worsen
from tests.listening.not_notes import KINDS, without_notes
from tests.listening.strings import RATE, Take, string_take, tuning_take
from webapp.physics.alignment import Reading, align
from webapp.physics.buzz_sound import hear_buzzes
from webapp.physics.listening import Hearing, give_or_take_cents, hear

SEED = 71


@cache
def heard(name: str, damage: str, muddle: bool = False, seed: int = SEED) -> tuple[Take, Hearing]:
    """The take, its sound as recorded, and what was heard."""
    random = np.random.default_rng([seed, len(name)])
    take = string_take(random, name, muddle)
    recorded = replace(take, sound=worsen(random, take.sound, RATE, draw_phone(random, damage)))
    return recorded, hear(recorded.sound, RATE, take.asked)


def errors(take: Take, hearing: Hearing) -> dict[tuple[int, int], float]:
    """How far each difference to the open string is from the truth, in cents."""
    true = {(struck.string, struck.fret): struck.pitch_hz for struck in take.truth}
    return {
        place: cents - 1200 * np.log2(true[place] / true[place[0], 0])
        for place, (cents, _) in hearing.differences.items()
    }


@pytest.mark.parametrize(("name", "damage"), [("E1", "ordinary"), ("G2", "bad"), ("B3", "ordinary")])
def test_differences_to_the_open_string(name: str, damage: str) -> None:
    take, hearing = heard(name, damage)
    assert hearing.refused is None
    away = errors(take, hearing)
    assert set(away) == {(1, 12), (1, 19)}
    assert all(abs(cents) < (1.0 if damage == "bad" else 0.5) for cents in away.values())
    assert all(abs(away[place]) < 4 * error for place, (_, error) in hearing.differences.items())


def test_every_note_stands_where_it_was_played() -> None:
    take, hearing = heard("E1", "ordinary")
    assert [(note.string, note.fret) for note in hearing.notes] == [(s.string, s.fret) for s in take.truth]
    for note, struck in zip(hearing.notes, take.truth, strict=True):
        assert note.refused is None
        assert note.start_s == pytest.approx(struck.start_s, abs=0.1)
        assert abs(1200 * np.log2(note.pitch_hz / struck.pitch_hz)) < 0.8


@pytest.mark.parametrize("seed", [3, 4])
def test_a_muddled_take_is_still_read(seed: int) -> None:
    take, hearing = heard("E1", "clean", muddle=True, seed=seed)
    assert hearing.refused is None
    for note in hearing.notes:
        near = [struck.fret for struck in take.truth if abs(struck.start_s - note.start_s) < 0.2]
        assert near == [note.fret] or np.isnan(note.start_s)
    assert all(abs(cents) < 0.5 for cents in errors(take, hearing).values())


def test_open_strings_each_out_of_tune_on_its_own() -> None:
    random = np.random.default_rng(SEED)
    take = tuning_take(random, ["G2", "D2", "A1", "E1"])
    hearing = hear(take.sound, RATE, take.asked)
    assert hearing.differences == {}
    for struck in take.truth:
        hertz, error = hearing.pitches[struck.string, 0]
        assert abs(1200 * np.log2(hertz / struck.pitch_hz)) < max(0.5, 4 * error)


def test_a_semitone_off_is_asked_about_and_not_answered() -> None:
    take, _ = heard("B3", "ordinary")
    off = [(string, fret, hertz * 2 ** (1 / 12)) for string, fret, hertz in take.asked]
    hearing = hear(take.sound, RATE, off)
    assert hearing.asks and hearing.refused
    assert hearing.common_cents == pytest.approx(-100, abs=45)
    assert hearing.differences == {} and all(note.refused for note in hearing.notes)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "knocks"])
def test_what_is_no_note_is_refused(kind: str) -> None:
    take = without_notes(np.random.default_rng(SEED), kind)
    hearing = hear(take.sound, RATE, take.asked)
    assert hearing.refused
    assert hearing.differences == {} and hearing.pitches == {}
    assert all(note.refused for note in hearing.notes)


def odd_sounds() -> dict[str, np.ndarray]:
    random = np.random.default_rng(1)
    long = np.arange(3 * RATE)
    noise = random.normal(0, 1, len(long))
    clicks = np.zeros(len(long))
    clicks[random.integers(0, len(long), 200)] = 1.0
    return {
        "nothing": np.zeros(0),
        "one sample": np.ones(1),
        "five samples": np.zeros(5),
        "one window": noise[:960],
        "silence": np.zeros(RATE),
        "constant": np.ones(RATE),
        "not a number": np.full(RATE, np.nan),
        "here and there not a number": np.where(noise > 0, noise, np.nan),
        "infinite": np.where(long % 5000, 0.0, np.inf),
        "all infinite": np.full(RATE, -np.inf),
        "larger than can be added up": np.where(noise > 0, 1.79e308, -1.79e308),
        "smaller than can be squared": 1e-300 * noise,
        "square wave": np.sign(np.sin(long * 0.01)),
        "rising tone": np.sin(1e-6 * long**2),
        "clicks": clicks,
        "truth values": noise > 0,
        "integers": random.integers(-32768, 32767, RATE).astype(np.int16),
    }


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("listen", [hear, hear_buzzes])
@pytest.mark.parametrize("name", odd_sounds())
def test_odd_sounds_are_refused_and_break_nothing(name: str, listen: Callable[..., Any]) -> None:
    assert listen(odd_sounds()[name], RATE, [(1, 0, 41.2), (1, 12, 82.4)]).refused


def test_four_minutes_of_noise_keep_within_the_processor_time() -> None:
    # The most that a take may last. Five seconds a minute are allowed; noise is a quarter of a second's work.
    random = np.random.default_rng(2)
    sound = random.normal(0, 0.1, 240 * RATE)
    began = time.process_time()
    assert hear(sound, RATE, [(1, 0, 41.2)] * 48).refused
    assert time.process_time() - began < 4 * 5.0


def test_many_notes_heard_and_asked_are_lined_up_quickly() -> None:
    random = np.random.default_rng(3)
    heard_cents = (1200.0 * random.uniform(0, 2, 450)).tolist()
    began = time.process_time()
    found = align([[Reading(cents, 0.0)] for cents in heard_cents], [100.0 * n for n in range(24)], 45.0)
    assert time.process_time() - began < 5.0
    assert [heard for heard, *_ in found.pairs] == sorted({heard for heard, *_ in found.pairs})


@pytest.mark.parametrize("rate", [48000])
def test_any_rate_reads_the_same(rate: int) -> None:
    random = np.random.default_rng(SEED)
    take = string_take(random, "E2")
    # Open twice, the 12th fret twice.
    end = int((take.truth[4].start_s - 0.1) * RATE) // 1000 * 1000
    spectrum = np.fft.rfft(take.sound[:end])
    faster = np.fft.irfft(spectrum, end * rate // RATE) * rate / RATE
    hearing = hear((20000 * faster).astype(np.int16), rate, take.asked[:4])
    away = errors(take, hearing)
    assert set(away) == {(1, 12)} and abs(away[1, 12]) < 0.6


@pytest.mark.parametrize(
    ("samples", "rate", "asked"),
    [
        (np.zeros(100), 4000, [(1, 0, 41.2)]),
        (np.zeros(100), 24000, []),
        (np.zeros(100), 24000, [(1, 0, 0.0)]),
        (np.zeros((100, 2)), 24000, [(1, 0, 41.2)]),
    ],
)
def test_what_cannot_be_read_is_an_error(
    samples: np.ndarray, rate: int, asked: list[tuple[int, int, float]]
) -> None:
    with pytest.raises(ValueError):
        hear(samples, rate, asked)


def test_nothing_is_stated_better_than_a_cent() -> None:
    assert give_or_take_cents(0.01) == 1.0
    assert give_or_take_cents(0.8) == 1.6
