"""Read content/ once, at start, into one frozen Trade. A bad file stops the start with its line."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Annotated, Any, TypeVar

from pydantic import Field, ValidationError

from webapp.trade.belief import Priors
from webapp.trade.buzz import BuzzSheet
from webapp.trade.demo import Demo
from webapp.trade.errors import ContentError, syntax_error, value_error
from webapp.trade.pages import (
    Caution,
    CheckPage,
    EarSymptom,
    PageError,
    PlaytestQuestion,
    StartSheet,
    read_page,
)
from webapp.trade.practice import DueSheet, Practice, Stretch, Swing
from webapp.trade.ranges import Ranges
from webapp.trade.spec import InstrumentSpec, Kind, Thread
from webapp.trade.string_sets import StringSet, StringsFile, StringStock, sets_and_stock
from webapp.trade.tools import Aid, CardKind, ReadingMethod, Tool
from webapp.trade.words import Check, TradeModel

__all__ = ["ContentError", "Trade", "load_trade"]

MM_PER_INCH = 25.4

Model = TypeVar("Model", bound=TradeModel)


class ToolsFile(TradeModel):
    """tools.toml: the tools, the cards, and the ways of reading with them."""

    card: Annotated[tuple[CardKind, ...], Field(min_length=1)]
    tool: tuple[Tool, ...]
    aid: tuple[Aid, ...]
    method: tuple[ReadingMethod, ...]


class ThreadsFile(TradeModel):
    """threads.toml."""

    thread: tuple[Thread, ...]


class CautionsFile(TradeModel):
    """cautions.toml."""

    caution: tuple[Caution, ...]


class PlaytestFile(TradeModel):
    """playtest.toml."""

    question: tuple[PlaytestQuestion, ...]


class EarFile(TradeModel):
    """ear.toml."""

    symptom: tuple[EarSymptom, ...]


class Trade(TradeModel):
    """All that content/ says."""

    kinds: dict[str, Kind]
    ranges: Ranges
    practice: Practice
    belief: Priors
    tools: dict[str, Tool]
    aids: tuple[Aid, ...]
    methods: tuple[ReadingMethod, ...]
    threads: dict[str, Thread]
    cautions: tuple[Caution, ...]
    swing: Swing
    stretch: Stretch
    string_sets: dict[str, StringSet]
    string_stock: StringStock
    buzz: BuzzSheet
    due: DueSheet
    pages: dict[Check, CheckPage]
    start: StartSheet
    playtest: tuple[PlaytestQuestion, ...]
    ear: tuple[EarSymptom, ...]
    cards: tuple[CardKind, ...]
    demo: Demo

    @property
    def card_thickness_mm(self) -> float:
        """The card that is meant where nobody said which: the first one."""
        return self.cards[0].thickness_mm

    @property
    def to_have(self) -> tuple[Tool | Aid, ...]:
        """The tools and aids that a player may have or not."""
        return (*(tool for tool in self.tools.values() if not tool.always_at_hand), *self.aids)

    def methods_for(self, check: Check) -> tuple[ReadingMethod, ...]:
        """The ways of taking a check's reading, the usual one first."""
        return tuple(method for method in self.methods if method.check is check)

    def method(self, check: Check, key: str) -> ReadingMethod:
        """One way of reading of one check. Raises KeyError."""
        for method in self.methods_for(check):
            if method.key == key:
                return method
        raise KeyError(key)

    def cautions_for(self, spec: InstrumentSpec, place: str) -> tuple[Caution, ...]:
        """The cautions beside a place that speak of what this instrument has, in the file's order."""
        return tuple(c for c in self.cautions if place in c.beside and c.needs <= spec.fittings)

    def question(self, key: str) -> PlaytestQuestion:
        """One question of the play test. Raises KeyError."""
        for question in self.playtest:
            if question.key == key:
                return question
        raise KeyError(key)


def load_trade(content: Path) -> Trade:
    """Read and check every file of the content folder. Raises ContentError for the first fault found."""
    tools = _read(content / "tools.toml", ToolsFile)
    threads = _keyed(content / "threads.toml", "thread", _read(content / "threads.toml", ThreadsFile).thread)
    kinds = _read_kinds(content / "kinds", threads)
    start = _read(content / "start.toml", StartSheet)
    playtest = _read(content / "playtest.toml", PlaytestFile).question
    ear = _read(content / "ear.toml", EarFile).symptom
    cautions = _read(content / "cautions.toml", CautionsFile).caution
    strings = content / "strings.toml"
    string_sets, string_stock = sets_and_stock(strings, _read(strings, StringsFile))
    _keyed(content / "tools.toml", "card", tools.card)
    _keyed(content / "playtest.toml", "question", playtest)
    _keyed(content / "ear.toml", "symptom", ear)
    _keyed(content / "cautions.toml", "caution", cautions)
    return Trade(
        kinds=kinds,
        ranges=_read(content / "ranges.toml", Ranges),
        practice=_read(content / "practice.toml", Practice),
        belief=_read(content / "belief.toml", Priors),
        tools=_keyed(content / "tools.toml", "tool", tools.tool),
        methods=_check_methods(content / "tools.toml", tools),
        threads=threads,
        cautions=cautions,
        swing=_read(content / "swing.toml", Swing),
        stretch=_read(content / "stretch.toml", Stretch),
        string_sets=string_sets,
        string_stock=string_stock,
        buzz=_read(content / "buzz.toml", BuzzSheet),
        due=_read_due(content, start),
        pages={check: _read_page(content / "checks" / f"{check.value}.md", check) for check in Check},
        start=start,
        playtest=playtest,
        ear=ear,
        aids=tools.aid,
        cards=tools.card,
        demo=_read_demo(content / "demo.toml", kinds, tools.method),
    )


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise ContentError(path, line, "This line is not UTF-8 text.") from error
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise ContentError(path, 1, f"The file cannot be read: {reason}.") from error


def _read(path: Path, model: type[Model], extra: dict[str, Any] | None = None) -> Model:
    return _validated(path, _text(path), model, extra or {})


def _validated(path: Path, text: str, model: type[Model], extra: dict[str, Any]) -> Model:
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise syntax_error(path, text, error) from error
    try:
        return model.model_validate(_in_millimetres(raw) | extra)
    except ValidationError as error:
        raise value_error(path, text, error) from error


def _in_millimetres(raw: Any) -> Any:
    """Lengths whose names end in _in are inches: hand them on in mm, to a tenth of a micron."""
    if isinstance(raw, list):
        return [_in_millimetres(item) for item in raw]
    if not isinstance(raw, dict):
        return raw
    converted: dict[str, Any] = {}
    for key, value in raw.items():
        if key.endswith("_in"):
            # Anything but a number goes on as it is, for the field's own check to refuse.
            number = isinstance(value, (int, float))
            converted[f"{key.removesuffix('_in')}_mm"] = round(value * MM_PER_INCH, 4) if number else value
        else:
            converted[key] = _in_millimetres(value)
    return converted


Keyed = TypeVar("Keyed", Tool, CardKind, Thread, Caution, PlaytestQuestion, EarSymptom)


def _keyed(path: Path, table: str, items: tuple[Keyed, ...]) -> dict[str, Keyed]:
    found: dict[str, Keyed] = {}
    for index, item in enumerate(items):
        if item.key in found:
            raise ContentError.at(path, (table, index, "key"), f'The key "{item.key}" is used twice.')
        found[item.key] = item
    return found


def _check_methods(path: Path, tools: ToolsFile) -> tuple[ReadingMethod, ...]:
    known = {tool.key: tool for tool in tools.tool}
    seen: set[tuple[Check, str]] = set()
    for index, method in enumerate(tools.method):
        at = ("method", index)
        if method.tool not in known:
            raise ContentError.at(path, (*at, "tool"), f'There is no tool "{method.tool}" in this file.')
        if (method.check, method.key) in seen:
            raise ContentError.at(path, (*at, "key"), f'"{method.key}" is twice in {method.check.value}.')
        tool = known[method.tool]
        wrong_unit = tool.sigma_cents is not None if method.input == "length" else tool.sigma_cents is None
        if method.input != "choice" and wrong_unit:
            raise ContentError.at(path, (*at, "tool"), f'The tool "{tool.key}" has no error in this unit.')
        seen.add((method.check, method.key))
    return tools.method


def _read_kinds(folder: Path, threads: dict[str, Thread]) -> dict[str, Kind]:
    kinds = [_read_kind(path, threads) for path in sorted(folder.glob("*.toml"))]
    if not kinds:
        raise ContentError(folder, 1, "There is no kind of instrument in this folder.")
    return {kind.key: kind for kind in sorted(kinds, key=lambda kind: (kind.place, kind.key))}


def _read_kind(path: Path, threads: dict[str, Thread]) -> Kind:
    text = _text(path)
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise syntax_error(path, text, error) from error
    # The file's name is the kind's key, and a new instrument of a kind starts under the kind's own name.
    extra: dict[str, Any] = {"key": path.stem}
    spec = raw.get("spec")
    if isinstance(spec, dict):
        extra["spec"] = _in_millimetres({"name": raw.get("name"), **spec, "kind": path.stem})
    kind = _validated(path, text, Kind, extra)
    for key in sorted(kind.thread_keys() - set(threads)):
        raise ContentError.at(path, ("spec", "bridge"), f'There is no thread "{key}" in threads.toml.')
    return kind


def _read_page(path: Path, check: Check) -> CheckPage:
    try:
        return read_page(check, _text(path))
    except PageError as error:
        raise ContentError(path, error.line, error.sentence) from error


def _read_due(content: Path, start: StartSheet) -> DueSheet:
    path = content / "due.toml"
    due = _read(path, DueSheet)
    known = {age.key for age in start.ages}
    for key in due.age_days:
        if key not in known:
            raise ContentError.at(path, ("age_days", key), f'There is no age "{key}" in start.toml.')
    return due


# What a demo's player measures a string's height with is told by the method's key.
_HEIGHTS = Check.HEIGHT


def _read_demo(path: Path, kinds: dict[str, Kind], methods: tuple[ReadingMethod, ...]) -> Demo:
    demo = _read(path, Demo)
    known = {method.key for method in methods if method.check == _HEIGHTS}
    for index, instrument in enumerate(demo.instrument):
        at: tuple[str | int, ...] = ("instrument", index)
        if instrument.kind not in kinds:
            raise ContentError.at(path, (*at, "kind"), f'There is no kind "{instrument.kind}".')
        try:
            instrument.spec_from(kinds[instrument.kind].spec)
        except ValidationError as error:
            sentence = value_error(path, "", error).sentence
            raise ContentError.at(path, (*at, "changes"), sentence) from error
        method = instrument.habits.height_method
        if method not in known:
            where = (*at, "habits", "height_method")
            raise ContentError.at(path, where, f'No method "{method}" for {_HEIGHTS.value}.')
    return demo
