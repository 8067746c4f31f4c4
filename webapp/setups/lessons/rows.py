"""What a lesson may ask of a kind of instrument: its checks, and the bands of each."""

from __future__ import annotations

from webapp.setups.checks import CHECKS
from webapp.setups.lesson import BandRow
from webapp.trade.content import Trade
from webapp.trade.kinds import Kind
from webapp.trade.words import Check


def checks_of(kind: Kind) -> tuple[Check, ...]:
    """The checks that an instrument of this kind has."""
    return tuple(check for check, one in CHECKS.items() if one.is_here(kind.spec))


def rows_of(trade: Trade, kind: Kind) -> tuple[BandRow, ...]:
    """Every row of a kind, in the order of the bench."""
    return tuple(row for one in CHECKS.values() for row in one.band_rows(trade, kind))
