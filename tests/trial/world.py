"""What the trial makes harder or easier: one set of numbers, and the named worlds."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True)
class World:
    """The odds of a simulated world. Shares lie between 0 and 1.

    rod_strength   times the rods' response
    noise          times every tool's scatter
    slips          share of readings, wrong_way share of turns, that go wrong unnoticed
    uneven         times the bow's departure from an even curve
    coupling       how far the heights' answer to the rod is off, as a share
    relief_tool    the only tool for relief; None: each player's own
    stuck, reversed, short_room   shares of rods
    high_fret, loose   shares of instruments with a fault that no height cures
    """

    name: str = "plain"
    rod_strength: float = 1.0
    noise: float = 1.0
    slips: float = 0.01
    wrong_way: float = 0.003
    uneven: float = 1.0
    coupling: float = 0.0
    relief_tool: str | None = None
    stuck: float = 0.02
    reversed: float = 0.01
    short_room: float = 0.02
    high_fret: float = 0.02
    loose: float = 0.01


PLAIN = World()
HARSH = World(
    "harsh", noise=1.3, slips=0.02, wrong_way=0.01, uneven=2.0, coupling=0.2, high_fret=0.05, loose=0.03
)
_ALL = (
    PLAIN,
    HARSH,
    World("strong_rods", rod_strength=2.0),
    World("noisy", noise=1.3),
    World("slips", slips=0.02),
    World("wrong_way", wrong_way=0.01),
    World("uneven", uneven=2.5),
    World("coupling", coupling=0.2),
    World("card", relief_tool="card"),
    World("ear", relief_tool="ear"),
    World("dead_rods", stuck=0.4, reversed=0.3),
    World("buzz", high_fret=0.4, loose=0.3),
    replace(HARSH, name="harsh_strong", rod_strength=2.0),
)
WORLDS = {world.name: world for world in _ALL}
