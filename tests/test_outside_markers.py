"""The checks against the world say what they check against, well enough for a stranger to find it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.conftest import faults_of, is_findable

OUTSIDE = Path(__file__).parent / "outside"


class Outside:
    """Counts what is collected: one printed value or fact a case, and the sources that they are from."""

    def __init__(self) -> None:
        self.cases = 0
        self.sources: set[str] = set()
        self.markers = dict.fromkeys(("published", "memory", "library", "practice"), 0)

    def pytest_collection_finish(self, session: pytest.Session) -> None:
        for item in session.items:
            for name in self.markers:
                for mark in item.iter_markers(name):
                    self.markers[name] += 1
                    if name in ("published", "memory"):
                        self.cases += 1
                        # By author, publisher or standard: two books of one are one source.
                        self.sources.add(mark.args[0].split(",")[0])


@pytest.fixture(scope="module")
def outside() -> Outside:
    counted = Outside()
    asked = ["--collect-only", "-qq", "-n", "0", "-p", "no:cacheprovider", str(OUTSIDE)]
    assert pytest.main(asked, plugins=[counted]) == pytest.ExitCode.OK
    return counted


def test_at_least_sixty_values_from_fifteen_sources(outside: Outside) -> None:
    assert outside.cases >= 60, outside.markers
    assert len(outside.sources) >= 15, sorted(outside.sources)


def test_more_is_looked_up_than_recalled(outside: Outside) -> None:
    assert outside.markers["published"] > outside.markers["memory"]


@pytest.mark.parametrize(
    "citation",
    [
        "ISO 16:1975, Acoustics",
        "ASME B1.1, Unified inch screw threads",
        "EN 1995-1-1, Eurocode 5, section 2.3.1.3",
        "ISO/IEC 7810, identification cards",
        "A maker, owner's manual (undated, read 2026), page 9",
        "An author, A Title, 2nd ed. 1998",
    ],
)
def test_a_year_or_a_standards_number_makes_a_citation_findable(citation: str) -> None:
    assert is_findable(citation)


@pytest.mark.parametrize(
    "citation",
    ["a guitar maker's setup sheet, page 2", "A maker, assembly instructions (kit 5295), page 36", "ISO", ""],
)
def test_a_citation_without_either_is_refused(citation: str) -> None:
    assert not is_findable(citation)


class _Item:
    """As much of a collected test as the rule looks at."""

    nodeid = "tests/outside/test_it.py::test_it"

    def __init__(self, *marks: pytest.MarkDecorator, path: Path = OUTSIDE / "test_it.py") -> None:
        self.path = path
        self._marks = [one.mark for one in marks]

    def iter_markers(self) -> list[pytest.Mark]:
        return self._marks


REFUSED = [
    ((), "exactly one of the markers"),
    ((pytest.mark.practice, pytest.mark.memory("A book, 1998")), "exactly one of the markers"),
    ((pytest.mark.published,), "say which"),
    ((pytest.mark.library(" "),), "say which"),
    ((pytest.mark.memory(),), "say which"),
    ((pytest.mark.published("A maker, setup sheet, page 2"),), "a year or a standard's number"),
]
TAKEN = [
    pytest.mark.practice, pytest.mark.library("a library"), pytest.mark.memory("A data sheet, undated"),
    pytest.mark.published("A maker, setup sheet, 2017, page 2"),
]  # fmt: skip


@pytest.mark.parametrize(("marks", "words"), REFUSED)
def test_the_rule_refuses(marks: tuple[pytest.MarkDecorator, ...], words: str) -> None:
    (fault,) = faults_of(_Item(*marks))  # type: ignore[arg-type]
    assert words in fault and _Item.nodeid in fault


@pytest.mark.parametrize("mark", TAKEN)
def test_the_rule_takes(mark: pytest.MarkDecorator) -> None:
    assert faults_of(_Item(mark)) == []  # type: ignore[arg-type]


def test_tests_of_our_own_need_no_marker() -> None:
    assert faults_of(_Item(path=OUTSIDE.parent / "physics" / "test_it.py")) == []  # type: ignore[arg-type]
