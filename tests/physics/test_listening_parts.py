"""The parts that listening is made of, each by itself."""

from __future__ import annotations

import numpy as np
import pytest

from webapp.physics.alignment import Reading, align
from webapp.physics.comb import candidates, peaks
from webapp.physics.onsets import onsets
from webapp.physics.partials import measure
from webapp.physics.stiff_string import at_fret, fit, partial_hz, stretch_cents

RATE = 24000
OPEN, TWELFTH, NINETEENTH = 0.0, 1200.0, 1900.0
ASKED = (OPEN, OPEN, TWELFTH, TWELFTH, NINETEENTH, NINETEENTH, OPEN, OPEN)


def note(hertz: float, stiffness: float, seconds: float = 2.5, glide_cents: float = 0.0) -> np.ndarray:
    """A plain stiff string: partials n < 25, falling as 1/n, the higher ones dying sooner."""
    t = np.arange(int(seconds * RATE)) / RATE
    warped = t + glide_cents * np.log(2) / 1200 * 0.2 * (1 - np.exp(-t / 0.2))
    return sum(
        np.exp(-t * (0.6 + 0.15 * n)) / n
        * np.sin(2 * np.pi * n * hertz * np.sqrt((1 + stiffness * n**2) / (1 + stiffness)) * warped + n * n)
        for n in range(1, 25)
    )  # fmt: skip


def placed(cents: list[float]) -> list[list[Reading]]:
    return [[Reading(value, 0.0)] for value in cents]


def asked_of(cents: list[float]) -> list[tuple[int, int]]:
    return [(heard, asked) for heard, asked, _ in align(placed(cents), ASKED, 55.0).pairs]


def test_onsets_of_plucks_and_of_nothing_else() -> None:
    sound = np.concatenate(
        [np.zeros(RATE // 2), note(82.4, 1e-4), np.zeros(RATE // 3), 0.2 * note(110, 1e-4)]
    )
    sound = sound + np.random.default_rng(1).normal(0, 1e-3, len(sound))
    assert onsets(sound, RATE) == pytest.approx([0.5, 0.5 + 2.5 + 1 / 3], abs=0.04)
    assert len(onsets(np.random.default_rng(2).normal(0, 0.1, 5 * RATE), RATE)) == 0


@pytest.mark.parametrize("hertz", [30.868, 41.2, 82.4, 196.0, 329.6, 987.8])
@pytest.mark.parametrize("highpass_hz", [0.0, 200.0])
def test_the_comb_takes_no_octave_for_another(hertz: float, highpass_hz: float) -> None:
    sound = note(hertz, 1e-4, 0.64)
    spectrum = np.fft.rfft(sound)
    spectrum[: int(highpass_hz * 0.64)] *= 0.001
    best = candidates(peaks(np.fft.irfft(spectrum, len(sound)), RATE))[0]
    assert best.pitch_hz == pytest.approx(hertz, rel=0.006)


def test_stiffness_and_pitch_come_back_with_a_partial_that_is_wrong() -> None:
    random = np.random.default_rng(4)
    number = np.arange(2.0, 20.0)
    cents = 3.0 + stretch_cents(number, 2e-4) + random.normal(0, 0.1, len(number))
    cents[5] += 25.0
    found = fit(number, cents, np.full(len(number), 0.1))
    assert found.cents == pytest.approx(3.0, abs=4 * found.error_cents)
    assert found.error_cents < 0.1
    assert found.stiffness == pytest.approx(2e-4, rel=0.03)
    assert found.weights[5] == 0.0


def test_the_errors_that_the_fit_states_are_the_errors_it_makes() -> None:
    random = np.random.default_rng(5)
    number = np.arange(1.0, 13.0)
    scores = []
    for _ in range(200):
        errors = random.uniform(0.1, 0.5, len(number))
        found = fit(number, stretch_cents(number, 1e-4) + errors * random.normal(0, 1, len(number)), errors)
        scores.append(found.cents / found.error_cents)
    assert 0.75 < np.std(scores) < 1.25


def test_the_stretch_is_that_of_the_partials() -> None:
    number = np.array([1.0, 2.0, 10.0])
    exact = 1200 * np.log2(partial_hz(number, 50.0, 3e-4) / (50.0 * number))
    assert stretch_cents(number, 3e-4) == pytest.approx(exact)
    assert at_fret(1e-4, 12) == pytest.approx(4e-4)


def test_no_partials_are_an_error() -> None:
    with pytest.raises(ValueError):
        fit(np.zeros(0), np.zeros(0), np.zeros(0))


@pytest.mark.parametrize("glide_cents", [0.0, 12.0])
@pytest.mark.parametrize(("hertz", "stiffness"), [(41.2, 2e-4), (196.0, 5e-5)])
def test_the_pitch_is_the_one_after_the_glide(hertz: float, stiffness: float, glide_cents: float) -> None:
    sound = note(hertz, stiffness, glide_cents=glide_cents)
    sound = sound + np.random.default_rng(6).normal(0, 0.003, len(sound))
    found = measure(sound, RATE, 0.0, 2.5, hertz * 1.002, (1.2e-4, 3e-4))
    assert found is not None
    away = 1200 * np.log2(found.pitch_hz / hertz)
    assert abs(away) < max(4 * found.error_cents, 0.1)
    assert found.error_cents < 0.4


def test_a_note_that_is_too_short_has_no_pitch() -> None:
    assert measure(note(82.4, 1e-4, 0.3), RATE, 0.0, 0.3, 82.4, (1e-4, 3e-4)) is None


def test_alignment_counts_off_a_whole_take() -> None:
    assert asked_of([cents + 12 for cents in ASKED]) == [(n, n) for n in range(8)]


def test_alignment_of_notes_too_many_missing_and_twice() -> None:
    assert asked_of([0, 0, 700, 1200, 1200, 1900, 1900, 0, 0]) == [
        (0, 0), (1, 1), (3, 2), (4, 3), (5, 4), (6, 5), (7, 6), (8, 7)
    ]  # fmt: skip
    missing = asked_of([0, 0, 1200, 1900, 1900, 0, 0])
    assert len(missing) == 7 and all(ASKED[a] == [0, 0, 1200, 1900, 1900, 0, 0][h] for h, a in missing)
    twice = asked_of([0, 0, 1200, 1200, 1200, 1900, 1900, 0, 0])
    assert len(twice) == 9


def test_alignment_finds_a_common_offset() -> None:
    found = align(placed([cents - 230 for cents in ASKED]), ASKED, 55.0)
    assert len(found.pairs) == 8
    assert found.common_cents == pytest.approx(-230)
