"""A caution is for the instruments that have what it speaks of, and for no other."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import pytest

from webapp.trade.content import Trade, load_trade
from webapp.trade.pages import Caution, Place

PLACES = get_args(Place)


@pytest.fixture(scope="module")
def trade() -> Trade:
    return load_trade(Path(__file__).parents[2] / "content")


def shown(trade: Trade, kind: str, *places: str) -> list[Caution]:
    return [c for place in places or PLACES for c in trade.cautions_for(trade.kinds[kind].spec, place)]


@pytest.mark.parametrize("kind", ["acoustic_6", "acoustic_12", "classical_6"])
def test_a_one_piece_saddle_is_warned_of_no_screw(trade: Trade, kind: str) -> None:
    words = " ".join(c.text for c in shown(trade, kind)).lower()
    assert "repairer" in words and "whip" in words
    for absent in ("height screw", "slide the saddle", "post", "spring", "pickup"):
        assert absent not in words, absent


def test_a_neck_without_a_rod_is_warned_of_none(trade: Trade) -> None:
    assert {"rod_key", "rod_ease", "rod_stop"} <= {c.key for c in shown(trade, "acoustic_6", "relief")}
    assert {c.key for c in shown(trade, "classical_6", "relief")} == {"maker_first"}


def test_springs_and_claw_are_warned_of_on_a_floating_bridge_alone(trade: Trade) -> None:
    own = {c.key for c in trade.cautions if "springs" in {need.value for need in c.needs}}
    assert own == {"springs", "spring_claw", "no_dive", "spring_wire"}
    floating = trade.kinds["electric_6_floating"].spec
    assert own | {"posts_slack"} <= {c.key for c in trade.cautions_for(floating, "height")}
    assert {"springs", "no_dive"} <= {c.key for c in trade.cautions_for(floating, "strings")}
    assert "no_dive" in {c.key for c in trade.cautions_for(floating, "intonation")}
    for kind in trade.kinds:
        if kind != "electric_6_floating":
            assert not own & {c.key for c in shown(trade, kind)}, kind


def test_posts_and_saddle_screws_are_warned_of_where_they_are(trade: Trade) -> None:
    for kind, posts, saddles in (("electric_6", False, True), ("electric_6_posts", True, False)):
        keys = {c.key for c in shown(trade, kind, "height")}
        assert ("posts_slack" in keys, "saddle_even" in keys) == (posts, saddles), kind


def test_what_needs_nothing_is_said_to_everybody_in_the_files_order(trade: Trade) -> None:
    for kind in trade.kinds:
        keys = [c.key for c in shown(trade, kind, "report")]
        assert {"whip", "maker_first", "sharp_ends", "nut_files", "repairer_work", "guidance"} <= set(keys)
        assert keys == [c.key for c in trade.cautions if c.key in keys]
