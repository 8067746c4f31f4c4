"""The pull of the strings: as it is, and with others tried."""

from __future__ import annotations

from collections.abc import Iterator

from webapp.drawings.bands.pull import Pull, pull_bars
from webapp.drawings.shapes import Drawing


def pictures() -> Iterator[tuple[str, Drawing]]:
    now = {"E1": 180.0, "A1": 210.0, "D2": 219.0, "G2": 191.0}
    tried = {"D1": 157.0, "G1": 187.0, "C2": 201.0, "F2": 189.0}
    yield "now", pull_bars([Pull(n, v, f"{v:.0f} N") for n, v in now.items()], "The pull of each string")
    both = zip(tried.items(), now.values(), strict=True)
    yield "tried", pull_bars([Pull(n, v, f"{v:.0f} N", was) for (n, v), was in both], "Tried and now")
