"""The process that listens: what it says is plain data that comes back as it was."""

from __future__ import annotations

import io
import json
import math
import wave

import numpy as np
import pytest

from tests.listening.rattle import buzz_takes
from tests.listening.strings import RATE, Take, string_take
from webapp.hearing.answers import Answer, packed, unpacked, without
from webapp.hearing.child import listen
from webapp.physics.listening import DISAGREE, Hearing, Note


def file_of(take: Take) -> io.BytesIO:
    kept = io.BytesIO()
    with wave.open(kept, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes((take.sound / np.abs(take.sound).max() * 32000).astype("<i2").tobytes())
    kept.seek(0)
    return kept


def told(take: Take, asked: list[tuple[int, int, float]], buzz: bool = False) -> Answer:
    return unpacked(json.loads(json.dumps(listen(file_of(take), asked, buzz)[0])))


def test_the_pitches_come_through_as_they_were_heard() -> None:
    take = string_take(np.random.default_rng(31), "G2")
    answer = told(take, take.asked)
    assert answer.refused == "" and answer.seconds == pytest.approx(len(take.sound) / RATE, abs=0.01)
    assert answer.hearing is not None and answer.hearing.refused is None and answer.shift == 0
    true = {struck.fret: struck.pitch_hz for struck in take.truth}
    for fret in (12, 19):
        cents, error = answer.hearing.differences[1, fret]
        assert cents == pytest.approx(1200 * math.log2(true[fret] / true[0]), abs=max(0.5, 4 * error))


def test_a_whole_tuning_away_is_heard_both_ways() -> None:
    take = string_take(np.random.default_rng(31), "G2")
    answer = told(take, [(string, fret, hertz * 2 ** (2 / 12)) for string, fret, hertz in take.asked])
    assert answer.hearing is not None and answer.hearing.asks and answer.hearing.differences == {}
    assert (
        answer.shift == -2
        and answer.shifted is not None
        and set(answer.shifted.differences) == {(1, 12), (1, 19)}
    )


def test_a_hard_note_that_strikes_is_marked() -> None:
    # With this seed the first fret strikes hard, and the second not at all.
    (take, words), *_ = buzz_takes(np.random.default_rng(9), "G2", [5, 7], 1, 1.0)
    assert words == ["strong", "clean"]
    answer = told(take, take.asked, buzz=True)
    assert answer.marks is not None and set(answer.marks) == {(1, 5)} and answer.hearing is None
    assert answer.starts_s is not None and set(answer.starts_s) == {(1, 5), (1, 7)}
    assert [at for pair in answer.starts_s.values() for at in pair] == pytest.approx(
        [struck.start_s for struck in take.truth], abs=0.05
    )


def note(fret: int, cents: float, refused: str | None = None) -> Note:
    return Note(1, fret, 98.0, 1.0, 98.0 * 2 ** (fret / 12 + cents / 1200), 0.3, refused)


def test_without_the_one_that_disagreed_the_others_agree() -> None:
    notes = (
        note(0, 0.0),
        note(0, 0.1),
        note(12, 2.0, DISAGREE),
        note(12, 20.0, DISAGREE),
        note(19, math.nan, "no"),
    )
    hearing = Hearing(notes)
    left = without(hearing, frozenset({3}))
    assert left.differences[1, 12][0] == pytest.approx(1201.95, abs=0.01)
    assert [n.refused for n in left.notes] == [None, None, None, DISAGREE, "no"]
    assert without(hearing, frozenset()).differences == {}
    # By their words: what was not heard has no number, and that is equal to nothing.
    assert repr(unpacked(json.loads(json.dumps(packed(Answer(hearing=left))))).hearing) == repr(left)
