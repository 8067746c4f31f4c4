"""The measuring tools in their order: which reads finer than which."""

from __future__ import annotations

from pathlib import Path

from webapp.trade.content import load_trade

TOOLS = load_trade(Path(__file__).parents[2] / "content").tools


def test_a_blade_is_the_finest_tool_and_a_ruler_the_coarsest() -> None:
    sigma = {tool.key: tool.sigma_mm for tool in TOOLS.values() if tool.sigma_mm is not None}
    finest_first = sorted(sigma, key=lambda key: sigma[key])
    assert finest_first[:2] == ["feeler", "card"] and finest_first[-1] == "ruler"
    assert {"gauge", "ear"} <= set(finest_first[2:-1])
