"""The cards that stand in for a feeler gauge."""

from __future__ import annotations

from pathlib import Path

import pytest

from webapp.trade.content import load_trade

CARDS = {card.key: card.thickness_mm for card in load_trade(Path(__file__).parents[2] / "content").cards}


@pytest.mark.published("ISO/IEC 7810:2019, identification cards, ID-1: 0.76 mm thick, within 0.08 mm")
def test_a_bank_card_is_as_thick_as_the_standard_says() -> None:
    assert CARDS["bank"] == 0.76
