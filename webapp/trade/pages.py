"""What is said beside the work: each check's written page, its questions, its cautions."""

from __future__ import annotations

from functools import cache
from typing import Annotated, Literal

from pydantic import Field

from webapp.trade.tools import Key
from webapp.trade.words import Check, Fitting, TradeModel

SECTIONS = ("why", "measure", "adjust", "stop")


class PageError(ValueError):
    """A check's page that cannot be read: the line, and what is wrong there."""

    def __init__(self, line: int, sentence: str) -> None:
        super().__init__(sentence)
        self.line = line
        self.sentence = sentence


class CheckPage(TradeModel):
    """One check's page. The title is plain text, `sections` are Markdown; read by name, they are HTML."""

    check: Check
    title: str
    sections: dict[str, str]

    @property
    def why(self) -> str:
        return _html(self.sections["why"])

    @property
    def measure(self) -> str:
        return _html(self.sections["measure"])

    @property
    def adjust(self) -> str:
        return _html(self.sections["adjust"])

    @property
    def stop(self) -> str:
        return _html(self.sections["stop"])


@cache
def _html(text: str) -> str:
    """A section, rendered when it is first looked at: what renders it takes a tenth of a start to load."""
    from markdown_it import MarkdownIt

    # Raw HTML in a page is shown as text: these files are edited by hand and shared.
    return str(MarkdownIt("commonmark", {"html": False}).render(text))


def read_page(check: Check, text: str) -> CheckPage:
    """Split a page at its `## ` headings. Raises PageError."""
    title, sections = _split(text)
    return CheckPage(check=check, title=title, sections=sections)


def _split(text: str) -> tuple[str, dict[str, str]]:
    title = ""
    bodies: dict[str, list[str]] = {}
    started: dict[str, int] = {}
    current: list[str] | None = None
    for number, line in enumerate(text.splitlines(), start=1):
        if line.startswith("## "):
            name = line[3:].strip().lower()
            if name not in SECTIONS:
                raise PageError(number, f'"{line[3:].strip()}" is not one of Why, Measure, Adjust, Stop.')
            if name in bodies:
                raise PageError(number, f'The section "{line[3:].strip()}" is here twice.')
            current = bodies[name] = []
            started[name] = number
        elif line.startswith("# ") and not title:
            title = line[2:].strip()
        elif current is not None:
            current.append(line)
        elif line.strip():
            raise PageError(number, 'Text before the first section: begin it with "## Why".')
    _check_complete(title, bodies, started, last_line=max(1, len(text.splitlines())))
    return title, {name: "\n".join(lines).strip() for name, lines in bodies.items()}


def _check_complete(
    title: str, bodies: dict[str, list[str]], started: dict[str, int], last_line: int
) -> None:
    if not title:
        raise PageError(1, 'The page has no title: begin it with "# " and a name.')
    for name in SECTIONS:
        if name not in bodies:
            raise PageError(last_line, f'The section "## {name.capitalize()}" is missing.')
        if not "".join(bodies[name]).strip():
            raise PageError(started[name], f'The section "## {name.capitalize()}" is empty.')


Sentence = Annotated[str, Field(min_length=1, max_length=300)]


class StartItem(TradeModel):
    """Something to confirm before the first reading."""

    key: Key
    label: Sentence
    hint: Sentence


class Stopper(TradeModel):
    """Something that ends the setup early, and what to do instead."""

    key: Key
    label: Sentence
    says: Sentence


class StringAge(TradeModel):
    """One answer to how old the strings are."""

    key: Key
    label: Sentence


class StartSheet(TradeModel):
    """The start check."""

    items: Annotated[tuple[StartItem, ...], Field(min_length=1)]
    stoppers: Annotated[tuple[Stopper, ...], Field(min_length=1)]
    ages: Annotated[tuple[StringAge, ...], Field(min_length=1)]


class Symptom(TradeModel):
    """What may be wrong in the play test, the check to go back to (none = a repairer), and why."""

    key: Key
    label: Sentence
    check: Check | None = None
    says: Sentence


class PlaytestQuestion(TradeModel):
    """One thing to try while playing, and the symptoms it may show."""

    key: Key
    label: Sentence
    hint: Sentence
    symptoms: Annotated[tuple[Symptom, ...], Field(min_length=1)]

    def symptom(self, key: str) -> Symptom:
        """The symptom with this key. Raises KeyError."""
        for symptom in self.symptoms:
            if symptom.key == key:
                return symptom
        raise KeyError(key)


class EarSymptom(TradeModel):
    """What a pickup sounds like when its height is wrong, and which way to move it."""

    key: Key
    label: Sentence
    way: Literal["lower", "raise", "balance"]
    says: Sentence


Place = Literal["start", "relief", "height", "nut", "intonation", "pickups", "playtest", "strings", "report"]


class Caution(TradeModel):
    """One sentence or two of caution, shown in full beside each place it names.

    It is for instruments that have all it `needs`; where nothing is needed, for every one.
    """

    key: Key
    text: Annotated[str, Field(min_length=1, max_length=300)]
    beside: Annotated[tuple[Place, ...], Field(min_length=1)]
    needs: frozenset[Fitting] = frozenset()
