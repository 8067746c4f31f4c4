"""Reading by ear of a microphone: which notes a take is asked for, and the readings that its pitches make."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from webapp.physics.listening import LEAST_STATED_CENTS, Note
from webapp.physics.numbers import write_number
from webapp.physics.strings import pitch_hz
from webapp.setups.buzz_marks import BOARD
from webapp.setups.case import Case
from webapp.setups.journal import START_PLACE, Entry, EntryKind
from webapp.setups.slots import Slot, check_of, string_label, string_numbers, tuned_slot
from webapp.trade.words import Check

# The tool of a reading that was heard, as in content/tools.toml, and its method.
TOOL, METHOD = "phone", "take"
OCTAVE = 12
TIMES = 2
# What two standard errors are never stated smaller than.
LEAST_ERROR_CENTS = LEAST_STATED_CENTS / 2
# An open string this near its note is in tune for a setup.
IN_TUNE_CENTS = 3.0
Place = tuple[int, int]
Asked = tuple[int, int, float]


class NoSuchTake(ValueError):
    """The name asks for no take of this instrument."""


class Aim(StrEnum):
    """What a take is for."""

    INTONATION = "intonation"
    TUNING = "tuning"
    BUZZ = "buzz"


@dataclass(frozen=True)
class TakeAsked:
    """A take: what for, of which string (None: of all, open), and its places in order, each played twice.

    For the buzz a place is played softly, then hard.
    """

    aim: Aim
    string: int | None
    places: tuple[Place, ...]

    @property
    def name(self) -> str:
        """As addresses say it: 'intonation.4', 'tuning'."""
        return self.aim.value if self.string is None else f"{self.aim}.{self.string}"

    def notes(self, case: Case) -> tuple[Asked, ...]:
        """(string, fret, nominal pitch in hertz) of each note, in order."""
        return tuple(
            (string, fret, nominal_hz(case, string, fret))
            for string, fret in self.places
            for _ in range(TIMES)
        )

    @property
    def place(self) -> str:
        """Where the same is told by hand: a slot, or the place of a question."""
        if self.aim is Aim.INTONATION:
            return self.slots()[0].key
        return START_PLACE if self.aim is Aim.TUNING else BOARD

    @property
    def check(self) -> Check:
        """The check that it belongs to."""
        return check_of(self.place)

    def slots(self) -> tuple[Slot, ...]:
        """The places of the setup that it reads."""
        if self.aim is not Aim.INTONATION:
            return ()
        high = any(fret > OCTAVE for _, fret in self.places)
        return tuple(tuned_slot(self.string or 1, one) for one in ((False, True) if high else (False,)))


def nominal_hz(case: Case, string: int, fret: int = 0) -> float:
    """The pitch that a note has by its name."""
    return pitch_hz(case.spec.string(string).note) * 2 ** (fret / 12)


def take_asked(case: Case, name: str) -> TakeAsked:
    """The take of an address; raises NoSuchTake."""
    what, _, number = name.partition(".")
    numbers = {str(n): n for n in string_numbers(case.spec)}
    if name == Aim.TUNING:
        return TakeAsked(Aim.TUNING, None, tuple((n, 0) for n in numbers.values()))
    if number not in numbers or what not in (Aim.INTONATION, Aim.BUZZ):
        raise NoSuchTake(name)
    string = numbers[number]
    if what == Aim.BUZZ:
        return TakeAsked(Aim.BUZZ, string, tuple((string, fret) for fret in range(case.spec.fret_count + 1)))
    high = case.intonation_fret(tuned_slot(string, high=True)) if case.spec.fret_count > OCTAVE else 0
    frets = (0, OCTAVE, high, 0) if high else (0, OCTAVE, 0)
    return TakeAsked(Aim.INTONATION, string, tuple((string, fret) for fret in frets))


def error_cents(error: float) -> float:
    """The standard error to keep: as heard, and never better than may be stated."""
    return max(LEAST_ERROR_CENTS, error)


@dataclass(frozen=True)
class HeardPlace:
    """A fretted note against its own open string: cents off, and the standard error."""

    slot: Slot
    fret: int
    cents: float
    error_cents: float


def heard_places(
    asked: TakeAsked, differences: Mapping[Place, tuple[float, float]]
) -> tuple[HeardPlace, ...]:
    """What a take says of its slots, the 12th fret first; a place that was not heard is left out."""
    frets = dict.fromkeys(fret for _, fret in asked.places if fret)
    found = []
    for slot, fret in zip(asked.slots(), frets, strict=True):
        if (asked.string or 0, fret) in differences:
            cents, error = differences[asked.string or 0, fret]
            found.append(HeardPlace(slot, fret, cents - 100.0 * fret, error_cents(error)))
    return tuple(found)


def heard_entries(places: Sequence[HeardPlace], notes: Sequence[Note]) -> list[Entry]:
    """One reading for each place, with the error that was heard, and how many notes it rests on."""
    good = [note.fret for note in notes if note.refused is None]
    return [
        Entry(
            EntryKind.READING,
            one.slot.check,
            one.slot.key,
            round(one.cents, 2),
            "cents",
            write_number(one.cents, 1),
            TOOL,
            round(one.error_cents, 3),
            {"method": METHOD, "fret": one.fret, "notes": good.count(one.fret), "open_notes": good.count(0)},
        )
        for one in places
    ]


@dataclass(frozen=True)
class HeardTuning:
    """An open string against its note; `cents` is None where it was not heard."""

    string: int
    label: str
    note: str
    cents: float | None
    error_cents: float = LEAST_ERROR_CENTS

    @property
    def said(self) -> str:
        """In tune, flat or sharp; what to do is plain from that."""
        if self.cents is None:
            return "not heard"
        if abs(self.cents) <= IN_TUNE_CENTS:
            return "in tune"
        return "flat" if self.cents < 0 else "sharp"


def heard_tuning(
    case: Case, pitches: Mapping[Place, tuple[float, float]], semitones: int = 0
) -> tuple[HeardTuning, ...]:
    """Every open string against its note, or the one so many semitones from it."""
    found = []
    for number in string_numbers(case.spec):
        name = string_label(case.spec, number), case.spec.string(number).note
        if (number, 0) not in pitches:
            found.append(HeardTuning(number, *name, None))
            continue
        hertz, error = pitches[number, 0]
        cents = 1200 * math.log2(hertz / nominal_hz(case, number)) - 100 * semitones
        found.append(HeardTuning(number, *name, cents, error_cents(error)))
    return tuple(found)
