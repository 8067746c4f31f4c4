"""The law of the partials and the pitch that is heard, against libraries that know nothing of strings."""

from __future__ import annotations

import numpy as np
import pretty_midi
import pytest
import scipy.linalg
import scipy.signal

from webapp.physics.listening import hear
from webapp.physics.stiff_string import partial_hz

RATE = 24000


@pytest.mark.library("scipy.linalg")
@pytest.mark.parametrize("stiffness", [2e-5, 2e-4, 1e-3])
def test_partials_are_the_eigenvalues_of_a_stiff_string(stiffness: float) -> None:
    # -u'' + (B / pi**2) u'''' on 0 to 1, pinned ends, as a matrix: its eigenvalues go as frequency squared.
    points = 400
    second = (np.diag(np.full(points, 2.0)) - np.eye(points, k=1) - np.eye(points, k=-1)) * (points + 1) ** 2
    squares = scipy.linalg.eigvalsh(second + stiffness / np.pi**2 * second @ second)
    found = np.sqrt(squares[:12] / squares[0])
    assert partial_hz(np.arange(1.0, 13.0), 1.0, stiffness) == pytest.approx(found, rel=2e-3)


@pytest.mark.library("pretty_midi and scipy.signal")
@pytest.mark.parametrize("number", [28, 43, 57])
def test_a_sawtooth_at_a_key_s_pitch_is_heard_there(number: int) -> None:
    hertz = pretty_midi.note_number_to_hz(number)
    t = np.arange(int(2.5 * RATE)) / RATE
    one = np.exp(-t) * scipy.signal.sawtooth(2 * np.pi * hertz * t)
    rest = np.zeros(RATE // 2)
    sound = np.concatenate([rest, one, rest, one]) + np.random.default_rng(number).normal(
        0, 1e-4, 2 * (len(one) + len(rest))
    )
    hearing = hear(sound, RATE, [(1, 0, hertz * 1.01)] * 2)
    assert hearing.refused is None
    heard, _ = hearing.pitches[1, 0]
    assert abs(1200 * np.log2(heard / hertz)) < 0.5
