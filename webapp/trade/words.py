"""The trade's own words, each list closed, and the frozen base of everything that is read from content/."""

from __future__ import annotations

from enum import StrEnum
from typing import Literal

from pydantic import BaseModel, ConfigDict


class Check(StrEnum):
    """The ordered steps of a setup."""

    START = "start"
    RELIEF = "relief"
    HEIGHT = "height"
    NUT = "nut"
    INTONATION = "intonation"
    PICKUPS = "pickups"
    PLAYTEST = "playtest"

    @property
    def short(self) -> str:
        """One word, where there is room for no more."""
        return "Play" if self.is_play else self.value.capitalize()

    @property
    def is_play(self) -> bool:
        """Playing it at last: what all the others are for."""
        return self is Check.PLAYTEST

    @property
    def is_preparation(self) -> bool:
        """Getting ready: nobody leaves it out, and it is no result."""
        return self is Check.START

    @property
    def is_cents(self) -> bool:
        """Whether its readings are cents; all others are lengths."""
        return self is Check.INTONATION

    @property
    def unit(self) -> Literal["mm", "cents"]:
        """What its readings are kept in."""
        return "cents" if self.is_cents else "mm"


class Family(StrEnum):
    """Kinds that share one set of bands."""

    BASS = "bass"
    BASS_SHORT = "bass_short"
    ELECTRIC = "electric"
    ACOUSTIC = "acoustic"
    CLASSICAL = "classical"


class Touch(StrEnum):
    """How hard the player plucks."""

    LIGHT = "light"
    MEDIUM = "medium"
    FIRM = "firm"


class PickupType(StrEnum):
    SINGLE = "single"
    SPLIT = "split"
    DUAL = "dual"


class PickupAdjust(StrEnum):
    """How the height screws work: ring (clockwise raises), body (clockwise lowers), or fixed."""

    RING = "ring"
    BODY = "body"
    FIXED = "fixed"


class PickupPosition(StrEnum):
    NECK = "neck"
    MIDDLE = "middle"
    BRIDGE = "bridge"


class RodType(StrEnum):
    TWO_WAY = "two_way"
    ONE_WAY = "one_way"
    NONE = "none"


class RodNut(StrEnum):
    """The end of the neck at which the rod's nut is reached."""

    HEADSTOCK = "headstock"
    BODY = "body"


class RodAccess(StrEnum):
    """What must come off before the key reaches the rod's nut."""

    OPEN = "open"
    COVER = "cover"
    STRINGS_OFF = "strings_off"
    NECK_OFF = "neck_off"


class Rotation(StrEnum):
    """A direction of turn as seen looking straight at the screw or rod nut."""

    CLOCKWISE = "clockwise"
    ANTICLOCKWISE = "anticlockwise"

    @property
    def other(self) -> Rotation:
        """The opposite direction."""
        return Rotation.ANTICLOCKWISE if self is Rotation.CLOCKWISE else Rotation.CLOCKWISE


class BridgeType(StrEnum):
    """Individual screw-height saddles, a bridge on two posts, a one-piece saddle, or a floating bridge."""

    INDIVIDUAL = "individual"
    TWO_POST = "two_post"
    ONE_PIECE = "one_piece"
    FLOATING = "floating"


class ScrewHeads(StrEnum):
    """The side of the saddles on which the heads of the intonation screws are."""

    BEHIND = "behind"
    FRONT = "front"


class Fitting(StrEnum):
    """What one instrument has and another has not: some cautions are for those that have it."""

    ROD = "rod"
    PICKUPS = "pickups"
    HEIGHT_SCREWS = "height_screws"
    INTONATION_SCREWS = "intonation_screws"
    POSTS = "posts"
    SPRINGS = "springs"


class Side(StrEnum):
    BASS = "bass"
    TREBLE = "treble"


Word = (
    Check
    | Family
    | Touch
    | PickupType
    | PickupAdjust
    | PickupPosition
    | RodType
    | RodNut
    | RodAccess
    | Rotation
    | BridgeType
    | ScrewHeads
    | Fitting
    | Side
)

# Only the words that do not already read well when their underscores become spaces.
_LABELS: dict[Word, str] = {
    Check.HEIGHT: "string height",
    Check.PLAYTEST: "play test",
    Family.BASS_SHORT: "short-scale bass",
    Family.ELECTRIC: "electric guitar",
    Family.ACOUSTIC: "steel-string acoustic",
    Family.CLASSICAL: "classical guitar",
    PickupType.SINGLE: "single coil",
    PickupType.SPLIT: "split coil",
    PickupType.DUAL: "dual coil",
    PickupAdjust.RING: "screws through a ring (clockwise raises)",
    PickupAdjust.BODY: "screws into the body (clockwise lowers)",
    PickupAdjust.FIXED: "fixed, cannot be moved",
    RodType.TWO_WAY: "two-way rod",
    RodType.ONE_WAY: "one-way rod",
    RodType.NONE: "no rod",
    RodAccess.OPEN: "nothing in the way",
    RodAccess.COVER: "under a cover",
    RodAccess.STRINGS_OFF: "the strings must come off or be slackened",
    RodAccess.NECK_OFF: "the neck must come off",
    BridgeType.INDIVIDUAL: "a saddle with height screws for each string",
    BridgeType.TWO_POST: "one bridge on two posts",
    BridgeType.ONE_PIECE: "one-piece saddle without screws",
    BridgeType.FLOATING: "floating bridge on springs",
    ScrewHeads.BEHIND: "behind, away from the neck",
    ScrewHeads.FRONT: "in front, on the neck’s side",
}


def rod_nut_end(nut_at: RodNut, headless: bool) -> str:
    """The end of the neck at which the rod's nut is: without a headstock, it is the nut's own."""
    if nut_at is RodNut.BODY:
        return "body end"
    return "nut end" if headless else "headstock"


def label(word: Word) -> str:
    """The words a player reads for one of these, without a capital at the start."""
    return _LABELS.get(word, word.value.replace("_", " "))


class TradeModel(BaseModel):
    """A fact of the trade. It never changes once read, and a misspelt field is an error, not a shrug."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
