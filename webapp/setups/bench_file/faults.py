"""Whether a bench file that somebody sends can be read and lived with, or what is wrong with it and where."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from itertools import islice
from typing import Any

from pydantic import ValidationError

from webapp.physics.numbers import say_number
from webapp.setups.assess import assess_case
from webapp.setups.bench_file.schema import FORMAT, VERSION, BenchFile, FileInstrument
from webapp.setups.case import Case
from webapp.setups.journal import Entry, Journal
from webapp.setups.past.history import JudgedSetup, newest_by_check
from webapp.setups.past.report import build_report
from webapp.setups.seasons.due import due_of
from webapp.trade.content import Trade
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Side

SHOWN = 5
NOT_JSON = "This is not a bench file: it is not JSON. Choose the .json file that “Keep a copy” made."
NOT_OURS = "This is JSON, but not a bench of Benchside. Choose the .json file that “Keep a copy” made."
NEWER = (
    "This file was made by a newer Benchside: it is version {version}, and this one reads version "
    f"{VERSION}. Update this Benchside, then try again."
)
TOO_DEEP = "This file is nested too deeply to be a bench of Benchside."
_PLACES = {
    "instruments": "instrument",
    "entries": "entry",
    "setups": "setup",
    "versions": "description",
    "air": "day of air",
}
_A_NUMBER = "this should be a number"
_A_TIME = "this should be a time with its zone, such as 2025-03-01T09:00:00Z"
_A_DAY = "this should be a day, such as 2025-03-01"
_WORDS = {
    "missing": "this is missing",
    "extra_forbidden": "this word is not known here",
    "float_parsing": _A_NUMBER,
    "float_type": _A_NUMBER,
    "finite_number": _A_NUMBER,
    "int_parsing": "this should be a whole number",
    "int_type": "this should be a whole number",
    "string_type": "this should be a text",
    "datetime_from_date_parsing": _A_TIME,
    "datetime_parsing": _A_TIME,
    "datetime_type": _A_TIME,
    "timezone_aware": _A_TIME,
    "date_from_datetime_parsing": _A_DAY,
    "date_parsing": _A_DAY,
}


# A clock may be ahead, but not by more than that; and nothing on an instrument that is read is as long.
AHEAD = timedelta(days=366)
# A few at the bench every week, for thirty years.
MOST_SETUPS, MOST_ENTRIES = 3_000, 40_000
TOO_MANY = "This file holds {count:,} {sort}, and at most {most:,} are taken in at once. Is it the right one?"
MOST_MM, MOST_CENTS = 100.0, 1200.0
TOO_FAR_AHEAD = "this lies more than a year in the future"
NO_TEXT = "a text must hold whole characters, and no null"
ONE_LINE = "a name must stand on one line"
_HALF_OR_NULL = re.compile("[\ud800-\udfff\0]")
_BREAK = re.compile(r"[\x00-\x1f\x7f\x85\u2028\u2029]")
_ESCAPED = re.compile(rb"\\u(?:[dD][89a-fA-F]|0000)")
Place = tuple[str | int, ...]


class BadBenchFile(ValueError):
    """The file cannot be taken in; `sentences` say what is wrong, the first ones of `count`."""

    def __init__(self, sentences: Sequence[str], count: int = 1) -> None:
        super().__init__(sentences[0])
        self.sentences = tuple(sentences)
        self.count = count


def read_bench_file(data: bytes, now: datetime) -> BenchFile:
    """The bench in a file; raises BadBenchFile. Whole or not at all: one broken entry refuses the file."""
    raw = _json(data)
    if not isinstance(raw, dict) or raw.get("format") != FORMAT:
        raise BadBenchFile([NOT_OURS])
    version = raw.get("version")
    if type(version) is int and version > VERSION:
        raise BadBenchFile([NEWER.format(version=version)])
    # Half a character or a null can only come in as an escape; most files hold none, and no walk is needed.
    _refuse(raw, _broken_texts(raw, ()) if _ESCAPED.search(data) else iter(()))
    _refuse(raw, _names_on_one_line(raw))
    _refuse_too_many(raw)
    try:
        file = BenchFile.model_validate(raw)
    except ValidationError as wrong:
        errors = wrong.errors(include_url=False, include_input=False)
        raise BadBenchFile([_sentence(raw, error) for error in errors[:SHOWN]], len(errors)) from None
    _refuse(raw, _impossible(file, now))
    return file


def _refuse_too_many(raw: dict[str, Any]) -> None:
    """How long it takes to judge a file goes by what is in it, not by its bytes."""
    instruments = raw.get("instruments")
    for sort, most in (("setups", MOST_SETUPS), ("entries", MOST_ENTRIES)):
        found = [_into(one, sort) for one in instruments] if isinstance(instruments, list) else []
        count = sum(len(one) for one in found if isinstance(one, list))
        if count > most:
            raise BadBenchFile([TOO_MANY.format(count=count, sort=sort, most=most)])


def _refuse(raw: dict[str, Any], found: Iterator[tuple[Place, str]]) -> None:
    faults = [{"loc": place, "type": "", "msg": message} for place, message in islice(found, 1000)]
    if faults:
        raise BadBenchFile([_sentence(raw, fault) for fault in faults[:SHOWN]], len(faults))


def _broken_texts(here: Any, place: Place) -> Iterator[tuple[Place, str]]:
    """Texts, of words and of their names, that no database can keep."""
    if isinstance(here, str):
        if _HALF_OR_NULL.search(here):
            yield place, NO_TEXT
    elif isinstance(here, dict):
        for name, inside in here.items():
            if _HALF_OR_NULL.search(name):
                yield place, NO_TEXT
            else:
                yield from _broken_texts(inside, (*place, name))
    elif isinstance(here, list):
        for number, inside in enumerate(here):
            yield from _broken_texts(inside, (*place, number))


def _names_on_one_line(raw: dict[str, Any]) -> Iterator[tuple[Place, str]]:
    """Trims the instruments' names, as a form does; says where one has a line break or the like in it."""
    instruments = raw.get("instruments")
    for i, instrument in enumerate(instruments if isinstance(instruments, list) else ()):
        versions = _into(instrument, "versions")
        for v, version in enumerate(versions if isinstance(versions, list) else ()):
            spec = _into(version, "spec")
            name = _into(spec, "name")
            if isinstance(name, str):
                spec["name"] = name.strip()
                if _BREAK.search(spec["name"]):
                    yield ("instruments", i, "versions", v, "spec", "name"), ONE_LINE


def _impossible(file: BenchFile, now: datetime) -> Iterator[tuple[Place, str]]:
    """Readings that nothing could have shown, and times that are still far off."""
    latest = now + AHEAD
    for i, one in enumerate(file.instruments):
        here: Place = ("instruments", i)
        if one.created_at > latest:
            yield (*here, "created_at"), TOO_FAR_AHEAD
        for v, version in enumerate(one.versions):
            if version.created_at > latest:
                yield (*here, "versions", v, "created_at"), TOO_FAR_AHEAD
        for s, setup in enumerate(one.setups):
            if setup.started_at > latest:
                yield (*here, "setups", s, "started_at"), TOO_FAR_AHEAD
            if setup.finished_at is not None and setup.finished_at > latest:
                yield (*here, "setups", s, "finished_at"), TOO_FAR_AHEAD
        for e, entry in enumerate(one.entries):
            if entry.at > latest:
                yield (*here, "entries", e, "at"), TOO_FAR_AHEAD
            most, unit = (MOST_CENTS, "cents") if entry.unit == "cents" else (MOST_MM, "mm")
            if entry.value is not None and abs(entry.value) > most:
                yield (
                    (*here, "entries", e, "value"),
                    f"this should be at most {say_number(most)} {unit} either way",
                )
    for d, day in enumerate(file.air):
        if day.day > latest.date():
            yield ("air", d, "day"), TOO_FAR_AHEAD


def _json(data: bytes) -> Any:
    try:
        return json.loads(data.decode("utf-8-sig"))
    except RecursionError:
        raise BadBenchFile([TOO_DEEP]) from None
    except ValueError:
        raise BadBenchFile([NOT_JSON]) from None


def _sentence(raw: dict[str, Any], error: Any) -> str:
    """'Instrument 2 (Workshop bass), entry 14, value: Input should be a valid number.'"""
    here: Any = raw
    words: list[str] = []
    for step in error["loc"]:
        here = _into(here, step)
        if isinstance(step, int):
            words[-1] = f"{_PLACES.get(words[-1], words[-1])} {step + 1}{_named(here)}"
        else:
            words.append(str(step))
    message = _WORDS.get(error["type"]) or str(error["msg"]).removeprefix("Value error, ")
    message = message.replace("Input should", "this should")
    told = f"{', '.join(words)}: {_lower(message)}." if words else f"{message}."
    return told[:1].upper() + told[1:]


def _into(here: Any, step: Any) -> Any:
    try:
        return here[step]
    except (KeyError, IndexError, TypeError):
        return None


def _named(here: Any) -> str:
    """An instrument's name beside its number."""
    versions = here.get("versions") if isinstance(here, dict) else None
    last = versions[-1] if isinstance(versions, list) and versions else None
    spec = last.get("spec") if isinstance(last, dict) else None
    name = spec.get("name") if isinstance(spec, dict) else None
    return f" ({name[:80]})" if isinstance(name, str) else ""


def _lower(message: str) -> str:
    return message if message[1:2].isupper() else message[:1].lower() + message[1:]


UNREADABLE = "Something in its journal cannot be read by this Benchside."


def why_unfit(
    instrument: FileInstrument, trade: Trade, now: datetime, judged: Callable[[], None] = lambda: None
) -> str:
    """Why this instrument cannot come in, as a sentence; empty where it can.

    `judged` is told of each setup that was: that may take long.
    """
    for version in instrument.versions:
        if version.spec.kind not in trade.kinds:
            return f"Its kind, “{version.spec.kind}”, is not known to this Benchside."
        if not _pickups_known(version.spec, trade):
            return "It has a sort of pickup that is not known on this kind of instrument."
    try:
        _live_through(instrument, trade, now, judged)
    except MemoryError:
        raise
    except Exception:
        # Whatever an unlikely file does wrong here, it would do on every page of the bench.
        return UNREADABLE
    return ""


def _pickups_known(spec: InstrumentSpec, trade: Trade) -> bool:
    family = trade.kinds[spec.kind].family
    return all(trade.ranges.pickup_bands(family, p.type, Side.BASS, spec.touch) for p in spec.pickups)


def _live_through(
    instrument: FileInstrument, trade: Trade, now: datetime, judged: Callable[[], None]
) -> None:
    """Judges every setup as the pages would; raises whatever they would raise."""
    journals = _journals(instrument)
    specs = {version.number: version.spec for version in instrument.versions}
    newest = instrument.versions[-1].spec
    past = []
    for setup in instrument.setups:
        spec = specs.get(setup.finished_version or 0, newest)
        case = Case(spec, trade, journals[setup.origin], now)
        found = assess_case(case)
        build_report(case, found, setup.started_at, setup.finished_at)
        past.append(JudgedSetup(setup.id, setup.started_at, setup.finished_at, case, found))
        judged()
    newest_by_check(past)
    together = Journal.of(entry for journal in journals.values() for entry in journal.entries)
    due_of(Case(newest, trade, together, now))


def _journals(instrument: FileInstrument) -> dict[str, Journal]:
    numbers = {entry.name: number for number, entry in enumerate(instrument.entries, 1)}
    made: dict[str, list[Entry]] = {setup.origin: [] for setup in instrument.setups}
    for entry in instrument.entries:
        voids = numbers[entry.voided] if entry.voided else None
        made[entry.setup].append(entry.entry(voids, numbers[entry.name]))
    return {origin: Journal.of(entries) for origin, entries in made.items()}
