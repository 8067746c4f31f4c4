"""The buzz finder: one planted fault is found again, and what is said about it can be acted on."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from random import Random
from typing import Any

import numpy as np
import pytest

from tests.setups.journals import BASS, CLASSICAL, GUITAR, Bench
from tests.setups.synthetic import Planted, Workshop, read_with_tools
from webapp.physics.clearance import clearances, reach_map
from webapp.setups.buzz_evidence import Source, ranges
from webapp.setups.buzz_finder import Cause, findings, rocker_fret
from webapp.setups.buzz_scene import scene_of
from webapp.setups.buzz_weigh import Suspect
from webapp.setups.journal import Part
from webapp.setups.setting import setting_of
from webapp.trade.buzz import CauseKey
from webapp.trade.words import Check

SEED = 7
EACH = 36


@dataclass
class Trial:
    """What the finder made of every planted instrument."""

    first: Counter[tuple[CauseKey, CauseKey]] = field(default_factory=Counter)
    second: Counter[CauseKey] = field(default_factory=Counter)
    fret_named: list[bool] = field(default_factory=list)
    kinds: set[str] = field(default_factory=set)

    def add(self, planted: Planted, causes: tuple[Cause, ...]) -> None:
        self.kinds.add(planted.truth.spec.kind)
        self.first[planted.key, causes[0].key] += 1
        self.second[planted.key] += planted.key in (causes[0].key, causes[1].key)
        if planted.key is CauseKey.UNEVEN_FRET:
            suspects = next(c.suspects for c in causes if c.key is planted.key)
            self.fret_named.append(planted.fret in [suspect.fret for suspect in suspects])

    @property
    def count(self) -> int:
        return self.first.total()

    @property
    def right(self) -> int:
        return sum(n for (planted, found), n in self.first.items() if planted is found)

    def table(self) -> str:
        """Planted down, found first across, and how often it was among the first two."""
        keys = list(CauseKey)
        lines = ["| planted | " + " | ".join(k.value.replace("_", " ") for k in keys) + " | in first two |"]
        lines.append("|---" * (len(keys) + 2) + "|")
        for row in keys:
            cells = [str(self.first[row, found] or "·") for found in keys]
            lines.append(f"| {row.value.replace('_', ' ')} | {' | '.join(cells)} | {self.second[row]} |")
        share, two = self.right / self.count, self.second.total() / self.count
        named = sum(self.fret_named) / len(self.fret_named)
        lines.append("")
        lines.append(
            f"{self.count} instruments: first {share:.1%}, in the first two {two:.1%}, fret named {named:.1%}"
        )
        return "\n".join(lines)


@pytest.fixture(scope="module")
def trial() -> Trial:
    made = Trial()
    for key in CauseKey:
        for number in range(EACH):
            rng = Random(f"{SEED}:{key.value}:{number}")
            planted = Workshop(rng).planted(key)
            made.add(planted, findings(read_with_tools(planted, rng).case()).causes)
    return made


def test_a_planted_fault_is_found_again(trial: Trial, capsys: pytest.CaptureFixture[str]) -> None:
    with capsys.disabled():
        print(f"\n{trial.table()}")
    assert trial.count >= 300
    assert trial.right >= 0.90 * trial.count
    assert trial.second.total() >= 0.98 * trial.count


def test_no_cause_is_found_only_at_the_cost_of_another(trial: Trial) -> None:
    for key in CauseKey:
        assert trial.first[key, key] >= 0.75 * EACH, key
    assert len(trial.kinds) >= 9


def test_the_uneven_fret_is_among_the_suspects(trial: Trial) -> None:
    assert sum(trial.fret_named) >= 0.95 * len(trial.fret_named)


# single boards


def board(kind: str, *taps: tuple[int, int], age: str = "weeks", touch: str = "medium", **read: Any) -> Bench:
    """A bench with everything read in the middle of its target, but for `read`; then the marks."""
    bench = Bench(kind)
    bench.observe("start", stoppers=[], age=age)
    slots = ["relief", *(f"height.{n}" for n in bench.numbers), *(f"nut.{n}" for n in bench.numbers)]
    for slot in slots:
        bench.reading(slot, read.get(slot.replace(".", "_")))
    bench.observe("height.buzz", taps=[list(tap) for tap in taps], touch=touch)
    return bench


def first(bench: Bench) -> Cause:
    return findings(bench.case()).causes[0]


def test_without_a_board_or_without_marks_there_is_nothing_to_find() -> None:
    assert findings(Bench().case()).causes == ()
    assert findings(board(BASS).case()).causes == ()


def test_every_cause_is_weighed_and_the_shares_add_up() -> None:
    causes = findings(board(BASS, (4, 3), (4, 4)).case()).causes
    assert {cause.key for cause in causes} == set(CauseKey)
    assert sum(cause.score for cause in causes) == pytest.approx(1)
    assert [c.score for c in causes] == sorted((c.score for c in causes), reverse=True)


def test_buzz_on_the_low_frets_of_a_straight_neck() -> None:
    low = [(4, 1), (4, 2), (4, 3), (3, 1), (3, 2), (2, 1)]
    cause = first(board(BASS, *low, touch="firm", relief=0.02))
    assert cause.key is CauseKey.TOO_STRAIGHT and cause.player
    sentences = " ".join(e.sentence for e in cause.evidence)
    assert "Relief reads 0.02 mm; for this touch 0.23 to 0.53 mm." in sentences
    assert "At a firm touch the map leaves -0." in sentences
    assert {Source.MEASURED, Source.FORECAST, Source.HEARD} == {e.source for e in cause.evidence}


def test_the_map_in_the_evidence_is_the_clearance_map() -> None:
    bench = board(BASS, (4, 1), (4, 2), (3, 1), relief=0.02)
    forecast = next(e for e in first(bench).evidence if e.source is Source.FORECAST)
    setting = setting_of(bench.case(), 4)
    scene = scene_of(bench.case())
    assert scene is not None
    room = clearances(setting.neck, setting.saddle_mm)
    room = room - scene.strings[0].swing_mm * reach_map(setting.neck, setting.pluck_mm)
    string, fretted = min(((4, 1), (4, 2)), key=lambda note: np.nanmin(room[note[1]]))
    assert string == 4
    assert forecast.figure == f"{np.nanmin(room[fretted]):.2f} mm"
    assert (
        forecast.after == f" on the E string, fretted at {fretted}, over fret {np.nanargmin(room[fretted])}."
    )


def test_open_only_over_a_low_slot() -> None:
    cause = first(board(BASS, (4, 0), nut_4=0.08))
    assert cause.key is CauseKey.NUT_LOW and not cause.player
    assert "E string" in cause.test
    assert any("0.08 mm over fret 1" in e.sentence for e in cause.evidence)


def test_open_only_over_good_slots_is_not_the_nut() -> None:
    high = {f"height_{n}": 3.2 for n in range(1, 5)} | {f"nut_{n}": 0.48 for n in range(1, 5)}
    assert first(board(BASS, (4, 0), (3, 0), (2, 0), **high)).key is CauseKey.LOOSE


def test_low_saddles_buzz_all_over() -> None:
    heights = {f"height_{n}": 1.3 for n in range(1, 5)}
    taps = [(n, fret) for n in range(1, 5) for fret in range(1, 12)]
    assert first(board(BASS, *taps, **heights)).key is CauseKey.TOO_LOW


def test_one_note_across_all_strings_is_the_fret_ahead_or_the_one_pressed() -> None:
    heights = {f"height_{n}": 2.3 for n in range(1, 7)}
    cause = first(board(GUITAR, *((n, 8) for n in range(1, 7)), **heights))
    assert cause.key is CauseKey.UNEVEN_FRET and not cause.player
    assert {(s.fret, s.high) for s in cause.suspects} == {(8, False), (9, True)}
    assert "frets 8 to 10" in cause.test and "fret 9 is the suspect" in cause.test


def test_a_pitch_that_rattles_on_every_string() -> None:
    heights = {f"height_{n}": 2.5 for n in range(1, 7)}
    same = [(6, 20), (5, 15), (4, 10), (3, 5), (2, 1)]  # C4
    cause = first(board(GUITAR, *same, **heights))
    assert cause.key is CauseKey.LOOSE
    assert any("same pitch" in e.sentence for e in cause.evidence)


def test_old_strings_by_age() -> None:
    heights = {f"height_{n}": 3.2 for n in range(1, 5)}
    here_and_there = [(4, 2), (4, 9), (3, 5), (3, 14), (2, 7), (2, 17), (1, 3), (1, 11)]
    old, fresh = (
        findings(board(BASS, *here_and_there, age=age, **heights).case()).causes for age in ("old", "fresh")
    )
    assert old[0].key is CauseKey.OLD_STRING
    assert any("half a year or more" in e.sentence for e in old[0].evidence)
    score = {cause.key: cause.score for cause in fresh}
    assert score[CauseKey.OLD_STRING] < old[0].score


def test_a_neck_without_a_rod_and_a_saddle_without_screws_go_to_a_repairer() -> None:
    bench = board(CLASSICAL, *((n, f) for n in (6, 5, 4) for f in (1, 2, 3)), touch="firm", relief=-0.1)
    causes = {cause.key: cause for cause in findings(bench.case()).causes}
    for key in (CauseKey.TOO_STRAIGHT, CauseKey.TOO_BOWED, CauseKey.TOO_LOW):
        assert not causes[key].player
        assert "repairer" in causes[key].fix
        assert "rod an eighth" not in causes[key].test and "quarter turn" not in causes[key].test


def test_what_was_turned_since_does_not_change_what_was_heard() -> None:
    bench = board(BASS, (4, 0), nut_4=0.08)
    before = findings(bench.case()).causes
    bench.turn(Part.SADDLE_HEIGHT, 8, string=4)
    bench.reading("height.4", 3.4)
    after = findings(bench.case())
    assert after.outdated
    assert [c.score for c in after.causes] == pytest.approx([c.score for c in before])


def test_a_reading_that_was_out_of_date_weighs_less() -> None:
    def score(*, turned: bool) -> float:
        bench = Bench(BASS)
        bench.start().read(Check.RELIEF, Check.HEIGHT, Check.NUT)
        bench.reading("relief", 0.02)
        if turned:
            bench.turn(Part.ROD, -1)
        bench.buzz((4, 1), (4, 2), (3, 1))
        return {c.key: c.score for c in findings(bench.case()).causes}[CauseKey.TOO_STRAIGHT]

    assert score(turned=True) < score(turned=False)


def test_nothing_measured_still_answers_and_says_so() -> None:
    bench = Bench(BASS)
    bench.buzz((4, 1), (4, 2), (4, 3), (3, 2))
    found = findings(bench.case())
    assert len(found.causes) == len(CauseKey)
    assert found.missing == ("relief", "every string height", "every gap at the nut")


def test_marks_off_this_board_are_left_out() -> None:
    bench = board(BASS, (4, 0), (9, 3), (4, 35), nut_4=0.08)
    assert first(bench).key is CauseKey.NUT_LOW


@pytest.mark.parametrize(
    ("suspects", "fret"),
    [
        ((Suspect(5, True, 0.1), Suspect(4, False, 0.1)), 5),
        ((Suspect(4, False, 0.1), Suspect(5, True, 0.1)), 5),
        ((Suspect(4, False, 0.1), Suspect(9, False, 0.1)), 5),
        ((Suspect(20, False, 0.1),), 20),
    ],
)
def test_the_rocker_goes_to_the_fret_that_would_stand_proud(suspects: tuple[Suspect, ...], fret: int) -> None:
    assert rocker_fret(suspects, 20) == fret


@pytest.mark.parametrize(
    ("frets", "words"),
    [
        ([0], "open"),
        ([3], "3"),
        ([0, 1, 2, 3], "open and 1 to 3"),
        ([4, 5], "4, 5"),
        ([1, 2, 3, 7, 9, 10, 11], "1 to 3, 7 and 9 to 11"),
    ],
)
def test_frets_are_said_in_runs(frets: list[int], words: str) -> None:
    assert ranges(frets) == words
