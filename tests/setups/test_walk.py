"""Whoever does what the next step says reaches the end, on an instrument that answers like a real one."""

from __future__ import annotations

from random import Random
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from tests.setups.journals import BASS, GUITAR, Bench, all_kinds
from tests.setups.workbench import Player, workpiece
from webapp.setups.journal import Part
from webapp.setups.states import Act
from webapp.setups.verdicts import Word
from webapp.trade.words import BridgeType, Check, PickupAdjust, RodType, Touch

MOST_STEPS = 400
# How far the last believed reading may be from the truth: the rounding of the reading, and of the relief
# and nut readings that a height read another way is converted with.
CLOSE = {Check.RELIEF: 0.02, Check.HEIGHT: 0.06, Check.NUT: 0.01, Check.PICKUPS: 0.01, Check.INTONATION: 0.51}
# A smaller seed is no simpler instrument: a failing one is told as it is.
EXAMPLES = settings(max_examples=2, deadline=None, database=None, phases=[Phase.generate])


def player_on(kind: str, touch: Touch, seed: int, **changes: Any) -> Player:
    """A random instrument of a kind, and a player with random habits."""
    rng = Random(seed)
    bench = Bench(kind, touch=touch, **changes)
    last = bench.spec.fret_count
    relief_frets = rng.choice([bench.case().relief_standard.frets, (1, last, 8)])
    height_way = rng.choice([(1, 12), (0, 12), (1, last)])
    return Player(bench, workpiece(bench, rng), relief_frets, height_way)


def check_finished(player: Player) -> None:
    """The end is reached, and what the journal believes is true of the instrument."""
    end = player.setup(MOST_STEPS)
    assert end.act is Act.FINISH
    assessment, case = player.bench.assess(), player.bench.case()
    for state in (state for check in assessment.checks.values() for state in check.slots):
        slot = state.slot
        assert state.measured and state.standard is not None, slot.key
        high = case.intonation_fret(slot) if slot.check is Check.INTONATION else 12
        true = player.piece.standard(slot, high)
        assert state.standard == pytest.approx(true, abs=CLOSE[slot.check]), slot.key
        given_up = state.advice is not None and bool(state.advice.repairer)
        left = slot.check is Check.NUT or case.spec.rod.type is RodType.NONE
        assert state.verdict.word is Word.GOOD or state.accepted or given_up or left, state


def check_rod(player: Player, first_mm: float) -> None:
    """Never more than a quarter turn at a time, never more than the whole turn, and in all the right way."""
    turns = player.piece.rod_turns
    target = player.bench.case().bands_relief.target
    if player.bench.spec.rod.type is RodType.NONE:
        assert turns == []
        return
    assert all(abs(eighths) <= 2 for eighths in turns)
    assert abs(sum(turns)) <= 9
    if first_mm > target.high + 0.01:
        assert sum(turns) > 0
    elif first_mm < target.low - 0.01:
        assert sum(turns) < 0
    elif target.low + 0.01 < first_mm < target.high - 0.01:
        assert turns == []


@pytest.mark.parametrize("touch", list(Touch))
@pytest.mark.parametrize("kind", all_kinds())
@EXAMPLES
@given(seed=st.integers(0, 2**32))
def test_following_the_advice_ends_the_setup(kind: str, touch: Touch, seed: int) -> None:
    player = player_on(kind, touch, seed)
    first_mm = player.piece.relief(player.piece.relief_frets)
    check_finished(player)
    check_rod(player, first_mm)


@pytest.mark.parametrize(
    ("kind", "changes"),
    [
        (BASS, {"rod": {"type": RodType.NONE}}),
        (BASS, {"bridge": {"height_thread": "unknown", "intonation_thread": "unknown"}}),
        (BASS, {"scale_treble_mm": 838.2}),
        (GUITAR, {"bridge": {"type": BridgeType.FLOATING, "post_spacing_mm": 74.0, "height_thread": "M5"}}),
        (GUITAR, {"bridge": {"type": BridgeType.TWO_POST, "height_thread": "M4"}}),
        (GUITAR, {"pickups": {"adjust": PickupAdjust.FIXED}}),
    ],
    ids=["no rod", "unknown threads", "fanned", "floating", "posts of unknown spacing", "fixed pickups"],
)
@EXAMPLES
@given(seed=st.integers(0, 2**32))
def test_so_does_an_instrument_that_differs_from_its_kind(
    kind: str, changes: dict[str, Any], seed: int
) -> None:
    player = player_on(kind, Touch.MEDIUM, seed, **changes)
    if player.bench.spec.bridge.intonation_thread == "unknown":
        # A quarter turn at a time takes many rounds: start nearer.
        player.piece.short_mm = {n: short / 4 for n, short in player.piece.short_mm.items()}
    check_finished(player)


@settings(max_examples=15, deadline=None, database=None)
@given(seed=st.integers(0, 2**32), response=st.floats(0.02, 0.15), start_mm=st.floats(-0.4, 1.4))
def test_the_rod_comes_to_rest(seed: int, response: float, start_mm: float) -> None:
    player = player_on(GUITAR, Touch.LIGHT, seed)
    piece = player.piece
    piece.rod_mm_per_eighth = response
    piece.bow_per_mm = start_mm / piece.relief(piece.relief_frets, bow=1.0)
    bench = player.bench.start()
    for _ in range(40):
        if bench.next.check is not Check.RELIEF:
            break
        player.setup(1)
    assert bench.next.check is Check.HEIGHT
    check_rod(player, start_mm)
    state = bench.state("relief")
    assert state.verdict.word is Word.GOOD or (state.advice is not None and state.advice.repairer)


@settings(max_examples=15, deadline=None, database=None)
@given(
    response=st.floats(0.03, 0.12), seed=st.integers(0, 2**32), start_mm=st.floats(0.7, 1.0)
)  # fmt: skip
def test_every_turn_lands_within_its_forecast(response: float, seed: int, start_mm: float) -> None:
    """The spread that a forecast states for an ordinary neck covers necks up to two spreads away."""
    player = player_on(BASS, Touch.MEDIUM, seed)
    piece, bench = player.piece, player.bench.start()
    piece.rod_mm_per_eighth = response
    piece.bow_per_mm = start_mm / piece.relief(piece.relief_frets, bow=1.0)
    player.setup(1)
    advice = bench.state("relief").advice
    assert advice is not None and advice.turn is not None and advice.forecast is not None
    piece.apply(advice.turn)
    seen = piece.relief(player.relief_frets)
    assert abs(seen - advice.forecast.value) <= 2 * advice.forecast.spread + 0.005


def test_nothing_is_turned_on_an_instrument_that_reads_well() -> None:
    player = player_on(BASS, Touch.MEDIUM, 7)
    piece, case = player.piece, player.bench.case()
    piece.bow_per_mm = 0.3 / piece.relief(piece.relief_frets, bow=1.0)
    player.relief_frets, player.height_way = case.relief_standard.frets, (1, 12)
    for number in player.bench.numbers:
        piece.buzzes_below_mm[number] = 0.0
        piece.short_mm[number] = piece.nut_cents[number] = 0.0
        piece.nut_gap_mm[number] = 0.35
        piece.saddle_mm[number] += 2.127 * (2.3 - piece.height(number, 1, 12))
    for pickup, side in piece.pickup_mm:
        piece.pickup_mm[pickup, side] += piece.pickup_gap(pickup, side) - 2.2
    assert player.setup(60).act is Act.FINISH
    assert player.bench.case().journal.turns == ()


def test_each_string_is_turned_for_itself_on_its_own_saddle() -> None:
    player = player_on(BASS, Touch.MEDIUM, 11)
    check_finished(player)
    turned = [e.turn for e in player.bench.case().journal.turns if e.turn.part is Part.SADDLE_HEIGHT]
    assert turned and all(turn.string in player.bench.numbers and turn.side is None for turn in turned)
