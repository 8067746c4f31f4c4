"""What is said when a content file is wrong: the file, the line, one plain sentence."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from webapp.trade.lines import has_value, line_of


class ContentError(Exception):
    """A content file that cannot be used."""

    def __init__(self, path: Path, line: int, sentence: str) -> None:
        super().__init__(f"{path}, line {line}: {sentence}")
        self.path = path
        self.line = line
        self.sentence = sentence

    @classmethod
    def at(cls, path: Path, place: Sequence[str | int], sentence: str) -> ContentError:
        """An error at a place of a TOML file that reads well otherwise."""
        return cls(path, line_of(path.read_text(encoding="utf-8"), place), sentence)


def syntax_error(path: Path, text: str, error: tomllib.TOMLDecodeError) -> ContentError:
    """A file that is not TOML at all."""
    message = str(error)
    found = re.search(r"at line (\d+)", message)
    # The reader says "at end of document" without a number when the file breaks off.
    line = int(found.group(1)) if found else max(1, len(text.rstrip().splitlines()))
    reason = re.sub(r"\s*\(at [^)]*\)$", "", message)
    return ContentError(path, line, f"This is not readable TOML: {reason}.")


def value_error(path: Path, text: str, error: ValidationError) -> ContentError:
    """A file that reads, but says something that cannot be."""
    first = error.errors(include_url=False)[0]
    place = _place(first["loc"], text)
    return ContentError(path, line_of(text, place), _sentence(dict(first), place))


def _place(loc: tuple[int | str, ...], text: str) -> tuple[int | str, ...]:
    # A length may be written in inches: then the name in the file ends in _in.
    if loc and isinstance(loc[-1], str) and loc[-1].endswith("_mm"):
        in_inches = (*loc[:-1], loc[-1].removesuffix("_mm") + "_in")
        if has_value(text, in_inches):
            return in_inches
    return loc


def _sentence(first: dict[str, Any], place: Sequence[int | str]) -> str:
    name = next((part for part in reversed(place) if isinstance(part, str) and part != "[key]"), "the file")
    kind, found = first["type"], first.get("input")
    if kind == "missing":
        return f'"{name}" is missing here.'
    if kind == "extra_forbidden":
        return f'"{name}" is not a word this file knows: perhaps it is misspelt.'
    if kind == "value_error":
        return f'"{name}" cannot be used: {str(first["msg"]).removeprefix("Value error, ")}.'
    if kind == "enum" or kind == "literal_error":
        return f'"{name}" is {found!r}: it should be {first["ctx"]["expected"]}.'
    reason = str(first["msg"])
    if name.endswith("_in") and isinstance(found, float):
        found = f"{found:g} mm"
    shown = f" is {found!r}" if isinstance(found, (str, int, float, bool)) else ""
    return f'"{name}"{shown}: {reason[:1].lower()}{reason[1:]}.'
