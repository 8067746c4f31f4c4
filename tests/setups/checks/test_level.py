"""A floating bridge: level first, by the springs, then the heights."""

from __future__ import annotations

import pytest

from tests.setups.journals import Bench, all_kinds
from tests.setups.obeying import obey
from webapp.setups.checks import READ_CHECKS
from webapp.setups.journal import Part, Turn
from webapp.setups.slots import Slot
from webapp.setups.states import Act, Advice
from webapp.trade.words import BridgeType, Check

FLOATING = "electric_6_floating"
HEIGHT = READ_CHECKS[Check.HEIGHT]
LEVEL = Slot(Check.HEIGHT, level=True)


def leaning(mm: float) -> Bench:
    bench = Bench(FLOATING).up_to(Check.HEIGHT)
    bench.reading("height.level", mm)
    return bench


def advice_of(bench: Bench) -> Advice:
    advice = bench.state("height.level").advice
    assert advice is not None
    return advice


@pytest.mark.parametrize("kind", all_kinds())
def test_only_a_floating_bridge_is_looked_at_and_before_any_string(kind: str) -> None:
    bench = Bench(kind).up_to(Check.HEIGHT)
    floats = bench.spec.bridge.type is BridgeType.FLOATING
    assert (bench.next.place == "height.level") is floats
    assert ("height.level" in bench.keys(Check.HEIGHT)) is floats
    if floats:
        assert bench.next.places == ("height.level",)


@pytest.mark.parametrize(
    ("mm", "verb", "clock", "means"),
    [(1.5, "Tighten", "clockwise", "toward the neck"), (-1.5, "Loosen", "anticlockwise", "leans back")],
)
def test_which_way_the_springs_go(mm: float, verb: str, clock: str, means: str) -> None:
    advice = advice_of(leaning(mm))
    assert advice.turn is not None and advice.turn.part is Part.SPRINGS
    assert (advice.turn.eighths > 0) is (mm > 0)
    assert abs(advice.turn.eighths) <= 2  # a quarter turn, then every string is tuned again
    assert means in advice.means
    [line] = [line for line in advice.do if line.startswith(verb)]
    assert f": {clock}," in line and "both claw screws" in line
    assert any(line.startswith("Tune every string, twice") for line in advice.do)


def test_a_level_bridge_goes_on_to_the_strings() -> None:
    bench = leaning(0.0)
    assert bench.state("height.level").settled
    assert (bench.next.act, bench.next.place) == (Act.MEASURE, "height.6")


def test_a_leaning_bridge_is_brought_level_step_by_step() -> None:
    bench = Bench(FLOATING).up_to(Check.HEIGHT)
    lean = [1.4]
    turns: list[Turn] = []

    def turn(made: Turn) -> None:
        turns.append(made)
        lean[0] -= made.eighths / 8 * 1.0

    def read(key: str) -> None:
        bench.reading(key, round(lean[0] * 4) / 4 if key == "height.level" else None, tool="ruler" if key ==
                      "height.level" else "")  # fmt: skip

    obey(bench, read, turn, until=Check.NUT)
    springs = [made for made in turns if made.part is Part.SPRINGS]
    assert springs and all(made.eighths > 0 for made in springs)
    assert abs(lean[0]) < 0.6


def test_the_hands_look_from_the_side_and_minus_is_allowed() -> None:
    case = Bench(FLOATING).case()
    first, second = HEIGHT.lines(case, LEVEL, "ruler", HEIGHT.way(case, LEVEL, None))
    assert "from the side" in first and "minus" in second
    assert HEIGHT.widest_of(LEVEL).low < 0 and not HEIGHT.refused(LEVEL, -1.0)
    assert "level" in HEIGHT.heading(case, LEVEL)
