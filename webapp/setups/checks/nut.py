"""Nut: the gap of every open string over the first fret; its slots are a repairer's work."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from webapp.setups.case import Case
from webapp.setups.checks.base import ReadCheck, Way
from webapp.setups.checks.deciding import Answer, View
from webapp.setups.checks.height import open_buzzes
from webapp.setups.lesson import NUT_PLAIN, NUT_WOUND, BandRow
from webapp.setups.slots import Slot, string_label
from webapp.setups.states import Advice, CheckState, Word, word_of
from webapp.trade.content import Trade
from webapp.trade.ranges import Band
from webapp.trade.spec import Kind
from webapp.trade.words import Check


class Nut(ReadCheck):
    """All strings in one go; nothing here is turned by the player."""

    check = Check.NUT
    drawn_at = "nut"
    widest = Band(low=0, high=10)
    plausible = "nut"

    def heading(self, case: Case, slot: Slot) -> str:
        assert slot.string is not None
        return f"{string_label(case.spec, slot.string)} at the nut"

    def lines(self, case: Case, slot: Slot, method: str, way: Way) -> tuple[str, str]:
        assert slot.string is not None
        return f"Leave the {string_label(case.spec, slot.string)} open; press nothing.", _gap(method)

    def lines_together(self, case: Case, slots: Sequence[Slot], method: str, way: Way) -> tuple[str, str]:
        return "Leave every string open; press nothing.", _gap(method)

    def only_way(self, case: Case) -> str:
        return "open, over fret 1"

    def band_rows(self, trade: Trade, kind: Kind) -> Iterable[BandRow]:
        for wound, key in ((True, NUT_WOUND), (False, NUT_PLAIN)):
            if any(string.wound is wound for string in kind.spec.strings):
                words = f"{'Wound' if wound else 'Plain'} strings, open, over fret 1"
                yield self.band_row(key, words, trade.ranges.nut_bands(kind.family, wound))

    def assess(self, case: Case) -> CheckState:
        states = [self.state(case, slot) for slot in self.slots(case)]
        return self.summed(states, self.next_step(states))

    def advised(self, case: Case, view: View) -> Answer:
        assert view.slot.string is not None
        return Answer(_advice(case, view, open_buzzes(case, view.slot.string)))


def _gap(method: str) -> str:
    if method == "card":
        return "Slide a card between fret 1 and the string. How many fit without lifting it?"
    return "Measure from the top of fret 1 to the underside of the string."


def _advice(case: Case, view: View, open_buzzes: bool) -> Advice:
    """Low matters only where the open string rattles."""
    slot, bands, say = view.slot, case.bands(view.slot), case.say
    assert slot.string is not None
    word, name = word_of(view.mean, bands), string_label(case.spec, slot.string)
    about = say.about(view.mean, view.give)
    if word is Word.GOOD and not open_buzzes:
        return Advice("Good: the open string clears the first fret and still presses down easily.")
    if open_buzzes and view.mean < bands.target.middle:
        return Advice(
            "Low, and the open string rattles: the slot is worn or cut too deep.",
            repairer=f"{name}: nut slot low, {about} over fret 1, and it rattles open. "
            f"Usual: {say.band(bands.usual.low, bands.usual.high)}.",
        )
    if word.is_low:
        return Advice("Low, but that only matters if the open string rattles. It does not: leave it.")
    if word.is_high:
        high = f"{name}: nut slot high, {about} over fret 1. Ask for at most {say.length(bands.target.high)}."
        much = word is Word.TOO_HIGH
        return Advice(
            f"{'High' if much else 'A little high'}: the first frets press stiffly and sound sharp. "
            + ("Cutting nut slots is a repairer’s job." if much else "Mention it at the next visit."),
            repairer=high if view.is_off else "",
        )
    return Advice(
        "The slot is not low, yet the open string rattles: look for something loose before the nut."
    )
