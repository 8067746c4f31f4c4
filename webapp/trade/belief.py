"""What is believed of any instrument beforehand: belief.toml."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from webapp.trade.words import Family, TradeModel

Chance = Annotated[float, Field(gt=0, lt=1)]
Mm = Annotated[float, Field(gt=0, le=10)]
Cents = Annotated[float, Field(gt=0, le=100)]
Count = Annotated[int, Field(ge=1, le=40)]


class ReadingPrior(TradeModel):
    """How often a reading is a slip, where it then lies, and when two doubted ones agree."""

    slip: Chance
    slip_mm: Mm
    slip_cents: Cents
    agree: Annotated[float, Field(gt=0, le=10)]
    over_pickups: Annotated[float, Field(ge=1, le=5)]


class HandPrior(TradeModel):
    """How surely a hand meets a turn, and how often it goes the wrong way."""

    felt_share: Chance
    wrong_way: Chance


class RodBelief(TradeModel):
    """Classes of rods: relief taken out by one eighth tightened, dead play, creep, hours until it has
    settled."""

    response_mm: tuple[float, ...]
    shares: tuple[float, ...]
    spread_share: Chance
    stuck: Chance
    reversed: Chance
    reversed_mm: float
    play_eighths: tuple[float, ...]
    play_shares: tuple[float, ...]
    move_share: Chance
    move_mm: Mm
    creep_share: Chance
    creep_hours: Annotated[float, Field(gt=0, le=240)]
    settle_hours: Annotated[float, Field(gt=0, le=240)]
    first_play_share: Annotated[float, Field(ge=0, le=1)]

    @model_validator(mode="after")
    def _as_many(self) -> Self:
        if len(self.response_mm) != len(self.shares) or len(self.play_eighths) != len(self.play_shares):
            raise ValueError("give one share for each class")
        return self


class BeforePrior(TradeModel):
    """Standard deviations before anything is read."""

    relief_mm: Mm
    height_all_mm: Mm
    height_tilt_mm: Mm
    height_own_mm: Mm
    nut_mm: Mm
    cents: Cents
    stretch_cents: Annotated[float, Field(ge=-20, le=20)]
    worn_cents: Cents
    pickup_mm: Mm
    level_mm: Mm
    springs_mm: Mm
    springs_spread_mm: Mm


class ThreadPrior(TradeModel):
    """How surely a told thread is right, and what a thread is that is none of the listed ones."""

    told: Chance
    other: Chance
    other_mm: Mm
    other_spread_mm: Mm
    exact_share: Chance
    dead_mm: Mm


class PassingPrior(TradeModel):
    """What a change of height does to the tuning and to the pickups' gap."""

    height_cents: float
    height_cents_spread: Cents
    pickup_share: float
    pickup_share_spread: Mm


class BetweenPrior(TradeModel):
    """How far things move between setups and with new strings, standard deviations."""

    season_mm: Mm
    season_days: Annotated[float, Field(gt=0, le=400)]
    setup_relief_mm: Mm
    setup_height_mm: Mm
    setup_cents: Cents
    setup_pickup_mm: Mm
    strings_relief_mm: Mm
    strings_height_mm: Mm
    strings_nut_mm: Mm


class Enough(TradeModel):
    """When a place is settled, what is worth a turn, and where trying ends."""

    settled: Chance
    again: Chance
    in_tune: Chance
    turn: Chance
    turn_settled: Chance
    weight_target: Chance
    distance: Chance
    thread_known: Chance
    rod_named: Chance
    raises: Count
    rod_at_once: Annotated[int, Field(ge=1, le=2)]
    rod_in_all: Annotated[int, Field(ge=2, le=8)]
    rod_days: Annotated[float, Field(gt=0, le=365)]
    most_reads: Count


class Kappa(TradeModel):
    """Height gained at 12, held at 1, for one mm of relief gained."""

    mean: Annotated[float, Field(gt=0, le=5)]
    spread: Mm


class Priors(TradeModel):
    """The whole of belief.toml."""

    reading: ReadingPrior
    hand: HandPrior
    rod: RodBelief
    before: BeforePrior
    thread: ThreadPrior
    passing: PassingPrior
    between: BetweenPrior
    enough: Enough
    kappa: dict[Family, Kappa]

    @model_validator(mode="after")
    def _every_family(self) -> Self:
        missing = [family.value for family in Family if family not in self.kappa]
        if missing:
            raise ValueError(f"no kappa for the family {', '.join(missing)}")
        return self
