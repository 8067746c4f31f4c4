"""What is said when a content file is wrong: the file, the line, one plain sentence."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pydantic import ValidationError

Place = tuple[str | int, ...]


def line_of(text: str, path: Sequence[str | int]) -> int:
    """The line of a value, or of the nearest table around it when the value itself is missing.

    Parts of the path that the text does not have are passed over: a validator may add a step of its own.
    """
    found = _Walk(text).lines
    reached: Place = ()
    for part in path:
        if (*reached, part) in found:
            reached = (*reached, part)
    return found.get(reached, 1)


def has_value(text: str, path: Sequence[str | int]) -> bool:
    """Whether the text states a value at exactly this path."""
    return tuple(path) in _Walk(text).lines


class _Walk:
    """One pass over the text, noting the line of every key and every array element."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Place, int] = {}
        self.counts: dict[Place, int] = {}
        self.table: Place = ()
        self._document()

    def _peek(self) -> str:
        return self.text[self.at : self.at + 1]

    def _note(self, path: Place) -> None:
        self.lines.setdefault(path, self.text.count("\n", 0, self.at) + 1)

    def _skip(self) -> None:
        while self.at < len(self.text):
            if self._peek() == "#":
                end = self.text.find("\n", self.at)
                self.at = len(self.text) if end < 0 else end
            elif self._peek().isspace():
                self.at += 1
            else:
                return

    def _document(self) -> None:
        self._skip()
        while self.at < len(self.text):
            if self._peek() == "[":
                self._header()
            else:
                self._pair(self.table)
            self._skip()

    def _header(self) -> None:
        is_array = self.text.startswith("[[", self.at)
        start = self.at
        self.at += 2 if is_array else 1
        path: Place = ()
        parts = self._key()
        for index, part in enumerate(parts):
            path += (part,)
            if is_array and index == len(parts) - 1:
                self.counts[path] = self.counts.get(path, -1) + 1
            if path in self.counts:
                path += (self.counts[path],)
        self.at, end = start, self.at
        for length in range(1, len(path) + 1):
            self._note(path[:length])
        self.at = end
        self.at += 2 if is_array else 1
        self.table = path

    def _pair(self, table: Place) -> None:
        start = self.at
        parts = self._key()
        self.at, end = start, self.at
        path = table
        for part in parts:
            path += (part,)
            self._note(path)
        self.at = end + 1
        self._skip()
        self._value(path)

    def _key(self) -> list[str]:
        """The parts of a dotted key; stops at the = or the ] that ends it."""
        parts: list[str] = []
        while self._peek() not in ("=", "]", ""):
            if self._peek() in "\"'":
                start = self.at + 1
                self._string()
                parts.append(self.text[start : self.at - 1])
            elif self._peek() in ". \t":
                self.at += 1
            else:
                start = self.at
                while self._peek() not in ("=", "]", ".", " ", "\t", ""):
                    self.at += 1
                parts.append(self.text[start : self.at])
        return parts

    def _value(self, path: Place) -> None:
        self._note(path)
        if self._peek() in ('"', "'"):
            self._string()
        elif self._peek() == "[":
            self._array(path)
        elif self._peek() == "{":
            self._inline(path)
        else:
            while self._peek() not in (",", "]", "}", "\n", "#", ""):
                self.at += 1

    def _string(self) -> None:
        quote = self._peek()
        mark = quote * 3 if self.text.startswith(quote * 3, self.at) else quote
        self.at += len(mark)
        while self.at < len(self.text) and not self.text.startswith(mark, self.at):
            self.at += 2 if quote == '"' and self._peek() == "\\" else 1
        self.at += len(mark)

    def _array(self, path: Place) -> None:
        self.at += 1
        index = 0
        self._skip()
        while self._peek() not in ("]", ""):
            self._value((*path, index))
            index += 1
            self._skip()
            if self._peek() == ",":
                self.at += 1
            self._skip()
        self.at += 1

    def _inline(self, path: Place) -> None:
        self.at += 1
        self._skip()
        while self._peek() not in ("}", ""):
            self._pair(path)
            self._skip()
            if self._peek() == ",":
                self.at += 1
            self._skip()
        self.at += 1


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
