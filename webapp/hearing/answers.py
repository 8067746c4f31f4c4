"""What was heard in a take, as the child process writes it and the pages read it: plain JSON."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from webapp.physics.listening import DISAGREE, Heard, Hearing, Note, together
from webapp.physics.listening import differences as differences_of

SEMITONE = 100.0
Place = tuple[int, int]


@dataclass(frozen=True)
class Answer:
    """A take, heard. `refused` says why nothing could be read at all, not even as sound.

    `shifted` is the same take heard as notes of a tuning `shift` semitones away, where that may be what was
    played; `marks` are {(string, fret): how strong} of the notes that may buzz, `unread` the ones of which
    nothing can be said, with why, `starts_s` when the soft one and the hard one of a place began.
    """

    refused: str = ""
    seconds: float = 0.0
    hearing: Hearing | None = None
    shift: int = 0
    shifted: Hearing | None = None
    marks: Mapping[Place, float] | None = None
    unread: Mapping[Place, str] | None = None
    starts_s: Mapping[Place, tuple[float, float]] | None = None


def semitones(common_cents: float) -> int:
    """The nearest whole number of semitones."""
    return round(common_cents / SEMITONE)


def without(hearing: Hearing, struck: frozenset[int]) -> Hearing:
    """The hearing without some of its notes (by number); what disagreed with one of them may agree now.

    A hearing that is refused whole stays so.
    """
    if hearing.refused is not None:
        return hearing
    kept = [
        replace(note, refused=None) if note.refused == DISAGREE else note
        for number, note in enumerate(hearing.notes)
        if number not in struck
    ]
    told, pitches = together(kept)
    later = iter(told)
    notes = tuple(note if n in struck else next(later) for n, note in enumerate(hearing.notes))
    return replace(hearing, notes=notes, pitches=pitches, differences=differences_of(pitches))


def packed(answer: Answer) -> dict[str, Any]:
    """An answer as JSON may hold it."""
    return {
        "refused": answer.refused,
        "seconds": round(answer.seconds, 2),
        "hearing": _packed_hearing(answer.hearing),
        "shift": answer.shift,
        "shifted": _packed_hearing(answer.shifted),
        "marks": _packed_places(answer.marks),
        "unread": _packed_places(answer.unread),
        "starts_s": _packed_places(answer.starts_s),
    }


def unpacked(data: Mapping[str, Any]) -> Answer:
    """The answer that was packed."""
    return Answer(
        data["refused"],
        data["seconds"],
        _hearing(data["hearing"]),
        data["shift"],
        _hearing(data["shifted"]),
        _places(data["marks"]),
        _places(data["unread"]),
        _places(data["starts_s"]),
    )


def _packed_hearing(hearing: Hearing | None) -> dict[str, Any] | None:
    if hearing is None:
        return None
    return {
        "notes": [
            [n.string, n.fret, n.nominal_hz, *map(_number, (n.start_s, n.pitch_hz, n.error_cents)), n.refused]
            for n in hearing.notes
        ],
        "left_out": [[h.start_s, h.pitch_hz, h.why] for h in hearing.left_out],
        "common_cents": hearing.common_cents,
        "refused": hearing.refused,
        "asks": hearing.asks,
    }


def _hearing(data: Mapping[str, Any] | None) -> Hearing | None:
    if data is None:
        return None
    notes = tuple(
        Note(string, fret, hertz, _back(start), _back(pitch), _back(error), refused)
        for string, fret, hertz, start, pitch, error, refused in data["notes"]
    )
    pitches: dict[Place, tuple[float, float]] = {}
    if data["refused"] is None:
        _, pitches = together(list(notes))
    return Hearing(
        notes,
        tuple(Heard(*row) for row in data["left_out"]),
        differences_of(pitches),
        pitches,
        data["common_cents"],
        data["refused"],
        data["asks"],
    )


def _number(value: float) -> float | None:
    return None if math.isnan(value) else value


def _back(value: float | None) -> float:
    return math.nan if value is None else value


def _packed_places(places: Mapping[Place, Any] | None) -> list[list[Any]] | None:
    return None if places is None else [[*place, told] for place, told in places.items()]


def _places(rows: list[list[Any]] | None) -> dict[Place, Any] | None:
    return (
        None
        if rows is None
        else {(string, fret): tuple(told) if isinstance(told, list) else told for string, fret, told in rows}
    )
