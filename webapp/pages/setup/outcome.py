"""How a setup ended, or would end now: its mark, the marks on the instrument, and what is left for whom."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from webapp.drawings.marks import REPAIRER
from webapp.drawings.portrait.portrait import PlaceMark, portrait
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import Units
from webapp.pages.setup.pictures import place_of
from webapp.pages.setup.reading_help import check_name
from webapp.pages.visit.addresses import adjust_path, check_path
from webapp.pages.visit.case_loading import LoadedSetup
from webapp.setups.dates import clock, day
from webapp.setups.past.report import Ending, Left, Who
from webapp.setups.states import Assessment, Word
from webapp.trade.spec import InstrumentSpec

# Who sees to what is left, at the head of its line.
WHOSE = {
    Who.PLAYER: "You",
    Who.KEPT: "Kept, as you like it",
    Who.TOOL: "A finer tool",
    Who.NOBODY: "As near as it gets",
}
UNDONE = "Left undone"
KEPT, PROVISIONAL = "accepted", "provisional"


@dataclass(frozen=True)
class LeftLine:
    """One thing that is left: its mark, whose it is, what it is, and where to look at it."""

    mark: str
    whose: str
    what: str
    said: str
    href: str

    @property
    def is_open(self) -> bool:
        """Whether something is left at all: not for later, and not liked so."""
        return self.mark not in (KEPT, PROVISIONAL)


def mark_of_whole(ending: Ending) -> str:
    """The mark that stands for all of it."""
    if not ending.done or ending.player_left:
        return Word.NOT_MEASURED.value
    if ending.is_right or ending.plays:
        return Word.GOOD.value
    return REPAIRER if ending.repairer else Word.CANNOT_TELL.value


def marked_portrait(spec: InstrumentSpec, found: Assessment, units: Units, setup_id: str = "") -> Drawing:
    """The instrument with how each check stands at its place; the marks lead into a setup that is named."""
    return portrait(spec, tuple(_marks(spec, found, setup_id)), units=units)


def _marks(spec: InstrumentSpec, found: Assessment, setup_id: str) -> Iterator[PlaceMark]:
    handed = {item.check for item in found.repairer}
    for check, state in found.checks.items():
        place = "" if check.is_preparation else place_of(spec, check)
        if place and state.here:
            word, said = (REPAIRER, REPAIRER) if check in handed else (state.word.value, state.said)
            href = check_path(setup_id, check) if setup_id else ""
            yield PlaceMark(place, word, f"{check_name(check)}: {said}", href)


def left_lines(setup: LoadedSetup, ending: Ending) -> tuple[LeftLine, ...]:
    """What is not right, the repairer's first; then what is still to come, and what is liked so."""
    repairs = [
        LeftLine(REPAIRER, "Repairer", item.text, "", check_path(setup.id, item.check))
        for item in ending.repairer
    ]
    kept = [one for one in ending.left if one.who is Who.KEPT]
    return (*repairs, *_lines(setup, ending.open), *_ahead(ending.relief_at), *_lines(setup, kept))


def _ahead(again: datetime | None) -> Iterator[LeftLine]:
    """A turned rod that is to be read once more."""
    if again is not None:
        when = f"You, from {clock(again)} on {day(again)}"
        what = "read the relief once more; the rod has settled by then."
        yield LeftLine(PROVISIONAL, when, what, "", "")


def _lines(setup: LoadedSetup, left: Sequence[Left]) -> Iterator[LeftLine]:
    """A line each; places of one check that are alike stand in one."""
    for (check, who, word, said), alike in groupby(
        left, lambda one: (one.check, one.who, one.word, one.said)
    ):
        found = list(alike)
        undone = setup.finished and who is Who.PLAYER
        yield LeftLine(
            mark=KEPT if who is Who.KEPT else (word or Word.NOT_MEASURED).value,
            whose=UNDONE if undone else WHOSE[who],
            what=_name(check_name(check), found),
            said=said,
            href=adjust_path(setup.id, found[0].slot) if _is_one(found) else check_path(setup.id, check),
        )


def _is_one(found: Sequence[Left]) -> bool:
    return len(found) == 1 and bool(found[0].slot)


def _name(check: str, found: Sequence[Left]) -> str:
    """What is not right: 'String height, A string', 'Neck pickup, bass side', 'Nut: A string, D string'."""
    places = [one.what for one in found if one.what]
    if not _is_one(found):
        what = ("; " if any("," in place for place in places) else ", ").join(places)
        return f"{check}: {what}" if what else check
    # A pickup's name says its check, as the relief's does.
    says_it = check.removesuffix("s").lower() in places[0].lower()
    return places[0] if says_it else f"{check}, {places[0]}"
