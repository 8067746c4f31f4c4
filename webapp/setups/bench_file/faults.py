"""Whether a bench file that somebody sends can be read and lived with, or what is wrong with it and where."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from pydantic import ValidationError

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


class BadBenchFile(ValueError):
    """The file cannot be taken in; `sentences` say what is wrong, the first ones of `count`."""

    def __init__(self, sentences: Sequence[str], count: int = 1) -> None:
        super().__init__(sentences[0])
        self.sentences = tuple(sentences)
        self.count = count


def read_bench_file(data: bytes) -> BenchFile:
    """The bench in a file; raises BadBenchFile. Whole or not at all: one broken entry refuses the file."""
    raw = _json(data)
    if not isinstance(raw, dict) or raw.get("format") != FORMAT:
        raise BadBenchFile([NOT_OURS])
    version = raw.get("version")
    if type(version) is int and version > VERSION:
        raise BadBenchFile([NEWER.format(version=version)])
    try:
        return BenchFile.model_validate(raw)
    except ValidationError as wrong:
        errors = wrong.errors(include_url=False, include_input=False)
        raise BadBenchFile([_sentence(raw, error) for error in errors[:SHOWN]], len(errors)) from None


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


def why_unfit(instrument: FileInstrument, trade: Trade, now: datetime) -> str:
    """Why this instrument cannot come in, as a sentence; empty where it can."""
    for version in instrument.versions:
        if version.spec.kind not in trade.kinds:
            return f"Its kind, “{version.spec.kind}”, is not known to this Benchside."
        if not _pickups_known(version.spec, trade):
            return "It has a sort of pickup that is not known on this kind of instrument."
    try:
        _live_through(instrument, trade, now)
    except Exception:
        # Whatever an unlikely file does wrong here, it would do on every page of the bench.
        return UNREADABLE
    return ""


def _pickups_known(spec: InstrumentSpec, trade: Trade) -> bool:
    family = trade.kinds[spec.kind].family
    return all(trade.ranges.pickup_bands(family, p.type, Side.BASS, spec.touch) for p in spec.pickups)


def _live_through(instrument: FileInstrument, trade: Trade, now: datetime) -> None:
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
