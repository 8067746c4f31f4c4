"""What a student hands in, copied out of a finished setup, and a lesson's hand-ins side by side. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from webapp.setups.case import Case
from webapp.setups.checks import CHECKS, READ_CHECKS
from webapp.setups.csv_text import Cell, csv_text
from webapp.setups.past.history import stands
from webapp.setups.past.narrate import what_was_turned
from webapp.setups.say import Say, capital
from webapp.setups.slots import check_of
from webapp.setups.states import NEEDIEST, Assessment, CheckState, SlotState, Word, said, worst
from webapp.trade.words import Check, TradeModel, label

# A word of hand-ins that were kept before a turn was taken to move what is believed.
_ONCE_SAID = {"out of date": Word.EXPECTED}
Said = Annotated[Word, BeforeValidator(lambda word: _ONCE_SAID.get(str(word), word))]


class HandedPlace(TradeModel):
    """One place: what it read (mm or cents, said the standard way), a range where it is one, and what that
    meant.

    Where it was not read since a turn, what is believed of it.
    """

    key: str
    label: str
    word: Said
    value: float | None = None
    low: float | None = None
    high: float | None = None
    unit: Literal["mm", "cents"] = "mm"
    kept: bool = False

    @property
    def said(self) -> str:
        """The verdict in the words of its check."""
        return said(check_of(self.key), self.word)


class HandedCheck(TradeModel):
    """One check of the lesson."""

    check: Check
    word: Said
    places: tuple[HandedPlace, ...] = ()

    @property
    def said(self) -> str:
        """The word to say."""
        return CHECKS[self.check].handed_in(self.word)

    @property
    def amiss(self) -> bool:
        """Whether its questions, where nothing is read, were answered with something amiss."""
        return not self.places and self.word.is_off

    @property
    def kept(self) -> bool:
        """Whether the player left something outside its band because they like it so."""
        return any(place.kept for place in self.places)

    @property
    def telling(self) -> HandedPlace | None:
        """The place that speaks for the check: the first of those with its word."""
        return next((place for place in self.places if place.word is self.word), None)


class HandIn(TradeModel):
    """All that a teacher gets to see; `finished` tells whether the setup was at its end."""

    checks: Annotated[tuple[HandedCheck, ...], Field(max_length=len(Check))]
    turned: tuple[str, ...] = ()
    finished: bool = True

    def check(self, check: Check) -> HandedCheck | None:
        """One check; None where this student's lesson had no such check."""
        return next((one for one in self.checks if one.check is check), None)


def hand_in_of(case: Case, assessment: Assessment, finished: bool) -> HandIn:
    """Verdicts, readings, and what was turned so far; no name, no note."""
    checks = tuple(_check(case, state) for state in assessment.checks.values() if state.here)
    return HandIn(checks=checks, turned=what_was_turned(case), finished=finished)


def _check(case: Case, state: CheckState) -> HandedCheck:
    places = tuple(_place(case, slot) for slot in state.slots)
    # What the student likes as it is still reads as it reads.
    word = worst([place.word for place in places]) if places else state.word
    return HandedCheck(check=state.check, word=word, places=places)


def _place(case: Case, state: SlotState) -> HandedPlace:
    verdict = stands(state)
    newest = state.reading if state.measured else None
    read = READ_CHECKS[state.slot.check].standard(case.belief, state.slot, newest) if newest else None
    value = read.value if read else None if verdict.word is Word.NOT_MEASURED else state.value
    low, high = (read.detail.get("low"), read.detail.get("high")) if read else (None, None)
    return HandedPlace(
        key=state.slot.key,
        label=state.label,
        word=verdict.word,
        value=_rounded(value),
        low=_rounded(low),
        high=_rounded(high),
        unit=state.slot.check.unit,
        kept=state.accepted and state.measured and not verdict.settled,
    )


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


BY_NAME = "name"
UNDONE = (Word.NOT_MEASURED, Word.MEASURE_AGAIN, Word.EXPECTED)


@dataclass(frozen=True)
class SheetLine:
    """One student's hand-in, under the name that they typed."""

    id: str
    name: str
    at: datetime
    what: HandIn


@dataclass(frozen=True)
class Pointer:
    """A sentence about what some of the class get wrong in one check."""

    check: Check
    count: int
    of: int
    sentence: str

    @property
    def most(self) -> bool:
        """Whether it is more than half of those who did the check."""
        return 2 * self.count > self.of


@dataclass(frozen=True)
class ClassSheet:
    """The lines in order, and the checks that they hold."""

    lines: tuple[SheetLine, ...]
    checks: tuple[Check, ...]

    @property
    def pointers(self) -> tuple[Pointer, ...]:
        """What to speak of in class, the commonest first."""
        found = (_pointer(check, self._judged(check)) for check in self.checks)
        return tuple(sorted((p for p in found if p is not None), key=lambda p: -p.count / p.of))

    def _of(self, check: Check) -> list[HandedCheck]:
        return [done for line in self.lines if (done := line.what.check(check)) is not None]

    def _judged(self, check: Check) -> list[HandedCheck]:
        """Those that can be spoken of: what is not done yet in a setup under way is nobody's mistake."""
        found = ((line.what.finished, line.what.check(check)) for line in self.lines)
        return [done for finished, done in found if done and (finished or done.word not in UNDONE)]

    def places(self, check: Check) -> tuple[tuple[str, str], ...]:
        """Key and label of every place of a check that anyone read, in the order of the bench."""
        found: dict[str, str] = {}
        for done in self._of(check):
            for place in done.places:
                found.setdefault(place.key, place.label)
        return tuple(found.items())


def class_sheet(lines: Iterable[SheetLine], checks: Sequence[Check], sort: str = BY_NAME) -> ClassSheet:
    """The lines sorted by name, or by the key of a check with the neediest first."""
    by_name = sorted(lines, key=lambda line: (line.name.casefold(), line.at))
    found = {done.check for line in by_name for done in line.what.checks}
    columns = tuple(check for check in Check if check in checks or check in found)
    chosen = next((check for check in columns if check.value == sort), None)
    if chosen is not None:
        by_name.sort(key=lambda line: _need(line.what.check(chosen)))
    return ClassSheet(tuple(by_name), columns)


def _need(done: HandedCheck | None) -> int:
    return len(NEEDIEST) if done is None else NEEDIEST.index(done.word)


def _pointer(check: Check, done: Sequence[HandedCheck]) -> Pointer | None:
    """The commonest of high, low and not done; nothing where that is nobody."""
    ways = (_side(check, done, "high"), _side(check, done, "low"), _undone(check, done))
    found = [pointer for pointer in ways if pointer is not None]
    return max(found, key=lambda pointer: pointer.count, default=None)


def _side(check: Check, done: Sequence[HandedCheck], side: str) -> Pointer | None:
    wrong = [places for one in done if (places := [p for p in one.places if _lies(p.word, side)])]
    if not wrong:
        return None
    much, little = Word(f"too {side}"), Word(f"a touch {side}")
    far = sum(1 for places in wrong if any(place.word is much for place in places))
    words = said(check, much if far == len(wrong) else little)
    rest = f", {far} of them {said(check, much)}" if 0 < far < len(wrong) else ""
    where = _mostly([place.label for places in wrong for place in places], len(wrong))
    what = f"{capital(label(check))}: {words}"
    return Pointer(check, len(wrong), len(done), f"{what} at {len(wrong)} of {len(done)}{rest}{where}.")


def _lies(word: Word, side: str) -> bool:
    return word.is_high if side == "high" else word.is_low


def _undone(check: Check, done: Sequence[HandedCheck]) -> Pointer | None:
    """Readings that are missing or doubted; for the questions without readings, what they came to."""
    amiss = sum(1 for one in done if one.amiss)
    count = amiss or sum(1 for one in done if _is_undone(one))
    if not count:
        return None
    what = CHECKS[check].undone(count, amiss > 0)
    return Pointer(check, count, len(done), f"{count} of {len(done)} {what}.")


def _is_undone(done: HandedCheck) -> bool:
    if not done.places:
        return done.word is not Word.GOOD
    return any(place.word in UNDONE for place in done.places)


def _mostly(labels: list[str], students: int) -> str:
    """Which place it is most often, where there are several and one stands out."""
    (place, count), *others = Counter(labels).most_common(2)
    if not others or count == others[0][1] or students < 2:
        return f" ({_inside(place)})" if not others and place != "Relief" else ""
    return f", most often the {_inside(place)} ({count})"


def _inside(place: str) -> str:
    """A place's name within a sentence: 'bridge pickup, bass side', but 'E string'."""
    return f"{place[:1].lower()}{place[1:]}" if place[1:2].islower() else place


def sheet_csv(sheet: ClassSheet) -> str:
    """The sheet for a spreadsheet: one line a student, every verdict and every reading (mm, cents)."""
    return csv_text(_heads(sheet), (_cells(sheet, line) for line in sheet.lines))


def _heads(sheet: ClassSheet) -> list[str]:
    heads = ["Name", "Handed in (UTC)", "Finished"]
    for check in sheet.checks:
        title = capital(label(check))
        heads.append(title)
        for _, place in sheet.places(check):
            name = title if place == title else f"{title}: {place}"
            heads += [f"{name}, {check.unit}", f"{name}, verdict"]
    return [*heads, "Turned"]


def _cells(sheet: ClassSheet, line: SheetLine) -> list[Cell]:
    cells: list[Cell] = [line.name, line.at, "yes" if line.what.finished else "so far"]
    for check in sheet.checks:
        done = line.what.check(check)
        cells.append(done.said if done else "")
        places: dict[str, HandedPlace] = {place.key: place for place in done.places} if done else {}
        for key, _ in sheet.places(check):
            place = places.get(key)
            cells += [_figure(place), _word(place)] if place else [None, ""]
    return [*cells, "; ".join(line.what.turned)]


def _figure(place: HandedPlace) -> Cell:
    """The number, or the range that was read in words."""
    if place.value is None or (place.low is None and place.high is None):
        return place.value
    return Say().range(place.value, place.low, place.high, place.unit == "cents")


def _word(place: HandedPlace) -> str:
    return f"{place.said} (kept)" if place.kept else place.said
