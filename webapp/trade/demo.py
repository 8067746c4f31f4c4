"""The demo bench's story, in a neutral form that the setups layer turns into entries. All of it invented."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from webapp.trade.base import TradeModel
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Check, Side

READING_SLOT = r"^(relief|(height|nut)\.\d{1,2}|intonation\.\d{1,2}\.\d{1,2}|pickups\.\d\.(bass|treble))$"
OBSERVATION_SLOT = r"^((start|playtest|ear)\.[a-z_]+|buzz\.\d{1,2}\.\d{1,2})$"


class DemoReading(TradeModel):
    """A number read with a tool. `hold`, `press` and `gap` are the frets used where they matter."""

    type: Literal["reading"]
    check: Check
    slot: Annotated[str, Field(pattern=READING_SLOT)]
    value: float
    unit: Literal["mm", "cents"] = "mm"
    typed: str
    method: str
    hold: int | None = None
    press: int | None = None
    gap: int | None = None


class DemoTurn(TradeModel):
    """An adjustment in eighths of a turn: + tightens, raises, or moves a saddle back (longer)."""

    type: Literal["turn"]
    check: Check
    what: Literal["rod", "saddle_height", "saddle_position", "pickup_height", "nut"]
    eighths: int
    string: int | None = None
    pickup: int | None = None
    side: Side | None = None


class DemoObservation(TradeModel):
    """Something seen or heard: a start item confirmed, a buzz (buzz.string.fret), a play test answer."""

    type: Literal["observe"]
    check: Check
    slot: Annotated[str, Field(pattern=OBSERVATION_SLOT)]
    answer: str


class DemoAcceptance(TradeModel):
    """A reading outside its band that the player likes."""

    type: Literal["accept"]
    check: Check
    slot: Annotated[str, Field(pattern=READING_SLOT)]
    note: str


class DemoNote(TradeModel):
    """A note in the player's own words."""

    type: Literal["note"]
    check: Check
    text: str


DemoEntry = Annotated[
    DemoReading | DemoTurn | DemoObservation | DemoAcceptance | DemoNote, Field(discriminator="type")
]


class DemoSetup(TradeModel):
    """One past setup: so many days ago, in this order, finished or left in the middle."""

    days_ago: Annotated[int, Field(ge=0, le=3650)]
    finished: bool = True
    entry: Annotated[tuple[DemoEntry, ...], Field(min_length=1)]


class DemoInstrument(TradeModel):
    """An invented instrument: a kind, a name, and what differs from the kind's starting values."""

    kind: str
    name: str
    changes: dict[str, Any] = {}
    setup: Annotated[tuple[DemoSetup, ...], Field(min_length=1)]

    def spec_from(self, starting: InstrumentSpec) -> InstrumentSpec:
        """The instrument's own spec: the kind's starting values, its name, its changes."""
        raw = starting.model_dump() | self.changes | {"name": self.name}
        return InstrumentSpec.model_validate(raw)


class Demo(TradeModel):
    """The whole demo bench, and the sentence that says it is invented."""

    notice: str
    instrument: Annotated[tuple[DemoInstrument, ...], Field(min_length=1)]
