"""Where each value of a TOML text stands, so that a mistake in a content file can be shown by its line.

The text has already been read by tomllib, so this walks it without checking it again.
"""

from __future__ import annotations

from collections.abc import Sequence

Path = tuple[str | int, ...]


def line_of(text: str, path: Sequence[str | int]) -> int:
    """The line of a value, or of the nearest table around it when the value itself is missing.

    Parts of the path that the text does not have are passed over: a validator may add a step of its own.
    """
    found = _Walk(text).lines
    reached: Path = ()
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
        self.lines: dict[Path, int] = {}
        self.counts: dict[Path, int] = {}
        self.table: Path = ()
        self._document()

    def _peek(self) -> str:
        return self.text[self.at : self.at + 1]

    def _note(self, path: Path) -> None:
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
        path: Path = ()
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

    def _pair(self, table: Path) -> None:
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

    def _value(self, path: Path) -> None:
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

    def _array(self, path: Path) -> None:
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

    def _inline(self, path: Path) -> None:
        self.at += 1
        self._skip()
        while self._peek() not in ("}", ""):
            self._pair(path)
            self._skip()
            if self._peek() == ",":
                self.at += 1
            self._skip()
        self.at += 1
