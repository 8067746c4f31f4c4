"""Cautions on the pages: what this instrument has, and nothing else."""

from __future__ import annotations

from html import unescape

import pytest

from tests.pages.conftest import Player, plain
from webapp.trade.content import Trade


def told(player: Player, trade: Trade, kind: str, place: str) -> set[str]:
    """The keys of the cautions on one page of a setup."""
    setup = player.begun(kind)
    words = unescape(plain(player.get(f"{setup}/{place}").text))
    return {caution.key for caution in trade.cautions if caution.text in words}


@pytest.mark.parametrize("place", ["check/height", "check/intonation", "report"])
@pytest.mark.parametrize("kind", ["acoustic_6", "classical_6"])
def test_a_one_piece_saddle_has_no_screw_to_be_warned_of(
    player: Player, trade: Trade, kind: str, place: str
) -> None:
    found = told(player, trade, kind, place)
    assert not {"saddle_even", "saddle_weight", "posts_slack", "springs"} & found


@pytest.mark.parametrize("place", ["check/height", "report"])
def test_saddles_with_screws_are_warned_of(player: Player, trade: Trade, place: str) -> None:
    assert {"saddle_even", "saddle_weight"} <= told(player, trade, "electric_6", place)


def test_a_floating_bridge_has_its_own(player: Player, trade: Trade) -> None:
    wanted = {"posts_slack", "springs", "spring_claw", "no_dive", "spring_wire"}
    assert wanted <= told(player, trade, "electric_6_floating", "check/height")
    assert {"springs", "no_dive"} <= told(player, trade, "electric_6_floating", "log")
