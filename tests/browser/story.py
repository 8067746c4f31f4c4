"""A player at the bench, who finds things by their words alone, as anyone with the page before them does."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from playwright.sync_api import Locator, Page, expect

FEELER, RULER, TUNER = "Feeler gauge", "Ruler", "Tuner"

# What is typed in each field of a page, in the order in which a four-string bass is set up. A field of a
# group is named with it: "E string: Fret 12".
HEIGHTS = {"E string": "2.6", "A string": "2.4", "D string": "2.2", "G string": "2.1"}
NUT = dict.fromkeys(HEIGHTS, "0.4")
INTONATION = {
    f"{name}: {fret}": cents for name in HEIGHTS for fret, cents in (("Fret 12", "1"), ("High fret", "-2"))
}
PICKUPS = {
    f"{name} pickup: {side} side": value
    for name in ("Middle", "Bridge")
    for side, value in (("Bass", "2.4"), ("Treble", "2.0"))
}


@dataclass
class Player:
    """Drives one page."""

    page: Page

    def sees(self, heading: str) -> None:
        expect(self.page.get_by_role("heading", level=1)).to_have_text(heading)

    def is_on(self, title: str) -> None:
        """By the page's title: where a page asks one question, its heading is that question."""
        expect(self.page).to_have_title(f"{title} · Benchside")

    def reads(self, words: str) -> None:
        expect(self.page.get_by_role("main")).to_contain_text(words)

    def push(self, button: Locator) -> None:
        button.click()

    def fill(self, field: Locator, value: str) -> None:
        field.fill(value)

    def tick(self, box: Locator) -> None:
        box.check()

    def press(self, name: str) -> None:
        self.push(self.page.get_by_role("button", name=name, exact=True))

    def follow(self, name: str) -> None:
        self.page.get_by_role("link", name=name, exact=True).click()

    def field(self, name: str) -> Locator:
        return self.page.get_by_label(name, exact=True)

    def measure(self, heading: str, tool: str, value: str) -> None:
        """Type one reading where it is asked for."""
        self.is_on(heading)
        # On the page that asks again, the field is empty until something is typed.
        expect(self.field(tool)).to_have_value("")
        self.fill(self.field(tool), value)
        self.press("Record")

    def measure_all(self, heading: str, values: Mapping[str, str]) -> None:
        """Type several readings on the one page that asks for them."""
        self.is_on(heading)
        for name, value in values.items():
            group, _, label = name.rpartition(": ")
            where = self.page.get_by_role("group", name=group, exact=True) if group else self.page
            expect(where.get_by_label(label, exact=True)).to_have_value("")
            self.fill(where.get_by_label(label, exact=True), value)
        self.press("Record")

    def turn_as_advised(self, *words: str) -> None:
        """Follow the advice, which must say these words."""
        for one in words:
            self.reads(one)
        self.turned()

    def turned(self) -> None:
        """Whatever the page said to turn was turned so."""
        self.push(self.page.get_by_role("button", name=re.compile("^Done")))

    def make_a_bass(self, name: str) -> None:
        """From the empty bench to the instrument's own page."""
        self.page.goto("/")
        self.reads("Nothing on the bench yet")
        self.follow("Add an instrument")
        self.sees("New instrument")
        self.field("Name").fill(name)
        self.page.get_by_label("Which kind is it?").select_option("bass_4_34")
        self.press("Save instrument")
        self.sees("Is yours like this?")
        self.follow(name)
        self.sees(name)

    def get_ready(self) -> None:
        self.sees("Get ready")
        for box in self.page.get_by_role("group", name="Tick what is done").get_by_role("checkbox").all():
            self.tick(box)
        self.press("Begin")

    def whole_setup(self) -> None:
        """Every reading of a setup; relief and the E string's height are out of range at first."""
        self.get_ready()
        self.measure("Relief", FEELER, "0.7")
        self.turn_as_advised("0.70 mm", "too much bow", "a quarter turn: clockwise", "Never force the rod")
        self.reads("Find the thickest blade")
        self.reads("expected about 0.")
        self.measure("Relief", FEELER, "0.4")
        self.measure_all("String height", HEIGHTS | {"E string": "3.5"})
        self.turn_as_advised("3.50 mm", "a touch high", "Lower the saddle of the E string")
        self.measure("Height of the E string", RULER, "2.6")
        self.sees("Pluck every fret")
        self.press("Nothing buzzes")
        self.measure_all("Nut", NUT)
        self.measure_all("Intonation", INTONATION)
        self.measure_all("Pickups", PICKUPS)
        self.sees("Plug in and listen")
        self.press("Record")
        self.sees("Play it")
        self.press("Sign off")
        self.is_on("Finish")
        self.reads("Everything is right as it stands")
        self.press("Finish this setup")

    def report_of(self, name: str) -> None:
        """What the report must say of that setup."""
        self.is_on(f"Report: {name}")
        self.sees("Everything is right as it stands; the neck has still to settle.")
        for words in ("0.70", "0.40", "3.50", "2.60", "tightened a quarter turn", "E string lowered"):
            self.reads(words)
        self.reads("no substitute for a qualified repairer")
