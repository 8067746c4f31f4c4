"""From the bytes of a logger's file to lines of text, a piece at a time."""

from __future__ import annotations

import codecs
import io
import unicodedata
from collections.abc import Iterable, Iterator

LONGEST_LINE = 4000
_SPREADSHEET = "This is a spreadsheet or a packed file, not a CSV. Open it, save it as CSV, and choose that."
_OTHER_FILES = {
    b"PK\x03\x04": _SPREADSHEET,
    b"\xd0\xcf\x11\xe0": _SPREADSHEET,
    b"\x1f\x8b": "This is a packed file. Unpack it, and choose the CSV that was in it.",
    b"%PDF": "This is a PDF, not a CSV. Export the readings from the logger as CSV.",
}
EMPTY = "This file is empty. Export the readings from the logger again."
NO_TEXT = "This is not a text file, so it holds no readings. Export the readings from the logger as CSV."
UNKNOWN = "The letters of this file cannot be read. Save it as CSV in UTF-8, and choose that."
# A text has next to none of these; a few may be a logger's stray bytes.
MOST_CONTROL = 0.01
_BLANKS = "\t\r\n\f\x1a"


class BadFile(Exception):
    """The file as a whole cannot be used; `sentence` is for the player."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def encoding_of(head: bytes) -> str:
    """The name of the encoding, judged by the first bytes of the file; raises BadFile where it is no text."""
    if not head.strip(b"\x00 \t\r\n\x1a"):
        raise BadFile(NO_TEXT if b"\x00" in head else EMPTY)
    for magic, sentence in _OTHER_FILES.items():
        if head.startswith(magic):
            raise BadFile(sentence)
    if head.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        raise BadFile(UNKNOWN)
    encoding = _likely(head)
    text = codecs.getincrementaldecoder(encoding)("replace").decode(head)
    strange = sum(unicodedata.category(sign) in ("Cc", "Cn", "Co") for sign in text if sign not in _BLANKS)
    if strange > MOST_CONTROL * len(text):
        raise BadFile(NO_TEXT if b"\x00" in head else UNKNOWN)
    return encoding


def _likely(head: bytes) -> str:
    if head.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    # Plain letters and digits in UTF-16 leave every second byte zero, even without a mark at the start.
    zeros = [head[parity::2].count(0) / max(1, len(head[parity::2])) for parity in (0, 1)]
    if max(zeros) > 0.4 and min(zeros) < 0.02:
        return "utf-16-be" if zeros[0] > zeros[1] else "utf-16-le"
    try:
        # Not final: the last letter may be cut in two.
        codecs.getincrementaldecoder("utf-8")("strict").decode(head)
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8"


def lines_of(chunks: Iterable[bytes], encoding: str) -> Iterator[str]:
    """The lines, without their ends. Of a line without an end only so much is kept as memory can bear."""
    letters = codecs.getincrementaldecoder(encoding)("replace")
    decoder = io.IncrementalNewlineDecoder(letters, translate=True)
    rest = ""
    for chunk in chunks:
        *whole, rest = (rest + decoder.decode(chunk)).split("\n")
        yield from whole
        rest = rest[:LONGEST_LINE]
    rest += decoder.decode(b"", final=True)
    if rest:
        yield rest
