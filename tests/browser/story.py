"""A player at the bench, who finds things by their words alone, as anyone with the page before them does."""

from __future__ import annotations

from dataclasses import dataclass

from playwright.sync_api import Locator, Page, expect

FEELER, RULER, TUNER = "Feeler gauge", "Ruler", "Tuner"

# Heading, the field's name, what is typed; in the order in which a four-string bass is set up.
RELIEF = ("Relief", FEELER)
OUTER = ("Height of the E string", RULER, "2.6"), ("Height of the G string", RULER, "2.1")
INNER = ("Height of the A string", RULER, "2.4"), ("Height of the D string", RULER, "2.2")
NUT = tuple((f"{name} string at the nut", FEELER, "0.4") for name in "EADG")
INTONATION = tuple(
    (f"{name} string at fret {fret}", TUNER, cents)
    for name in "EADG"
    for fret, cents in (("12", "1"), ("19", "-2"))
)
PICKUPS = tuple(
    (f"{name} pickup, {side} side", RULER, value)
    for name in ("Middle", "Bridge")
    for side, value in (("bass", "2.4"), ("treble", "2.0"))
)


@dataclass
class Player:
    """Drives one page."""

    page: Page

    def sees(self, heading: str) -> None:
        expect(self.page.get_by_role("heading", level=1)).to_have_text(heading)

    def reads(self, words: str) -> None:
        expect(self.page.get_by_role("main")).to_contain_text(words)

    def press(self, name: str) -> None:
        self.page.get_by_role("button", name=name, exact=True).click()

    def follow(self, name: str) -> None:
        self.page.get_by_role("link", name=name, exact=True).click()

    def field(self, name: str) -> Locator:
        return self.page.get_by_label(name, exact=True)

    def measure(self, heading: str, tool: str, value: str) -> None:
        """Type one reading where it is asked for."""
        self.sees(heading)
        # On the page that asks again, the field is empty until something is typed.
        expect(self.field(tool)).to_have_value("")
        self.field(tool).fill(value)
        self.press("Record")

    def turn_as_advised(self, *words: str) -> None:
        """Follow the advice, which must say these words."""
        for one in words:
            self.reads(one)
        expect(self.page.get_by_role("heading", name="What to do")).to_be_visible()
        self.press("I turned it")

    def make_a_bass(self, name: str) -> None:
        """From the empty bench to the instrument's own page."""
        self.page.goto("/")
        self.reads("Nothing on the bench yet")
        self.follow("Add an instrument")
        self.sees("Which kind is it?")
        self.page.get_by_role("link", name="Bass, 4 strings, 34 in").click()
        self.sees("New instrument")
        self.field("Name").fill(name)
        self.press("Save instrument")
        self.sees(name)

    def get_ready(self) -> None:
        self.sees("Get ready")
        for box in self.page.get_by_role("group", name="Tick what is done").get_by_role("checkbox").all():
            box.check()
        self.press("Begin")

    def whole_setup(self) -> None:
        """Every reading of a setup; relief and the E string's height are out of range at first."""
        self.get_ready()
        self.measure(*RELIEF, "0.7")
        self.turn_as_advised("0.70 mm", "too high", "an eighth of a turn: clockwise", "Never force the rod")
        self.reads("expected 0.64 mm")
        self.measure(*RELIEF, "0.4")
        low_e, high_g = OUTER
        self.measure(low_e[0], low_e[1], "3.9")
        self.measure(*high_g)
        self.turn_as_advised("3.90 mm", "too high", "Lower the saddle of the E string")
        self.measure(*low_e)
        for reading in INNER:
            self.measure(*reading)
        self.sees("Pluck every fret")
        self.press("Nothing buzzes")
        for reading in (*NUT, *INTONATION, *PICKUPS):
            self.measure(*reading)
        self.sees("Plug in and listen")
        self.press("Record")
        self.sees("Play it")
        self.press("Sign off")
        self.sees("Finish this setup")
        self.reads("Everything is done")
        self.press("Finish and see the report")

    def report_of(self, name: str) -> None:
        """What the report must say of that setup."""
        self.sees(name)
        self.reads("Report of a setup")
        for words in ("0.70", "0.40", "3.90", "2.60", "tightened an eighth of a turn", "E string lowered"):
            self.reads(words)
        self.reads("no substitute for a qualified repairer")
