"""What a recording says: the pitch of each note that was asked for, with what it is worth, or why it is
refused.

The way from sound to cents: when notes begin (``onsets``), a first idea of each pitch (``comb``), which
note is which that was asked for (``alignment``; all in ``take``), the partials of each and its pitch with a
standard error (``partials``, ``stiff_string``), one stiffness a string, repeats put together, and
differences to the open string, in which the recorder's clock cancels. Every limit beyond which nothing is
answered stands below.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from webapp.physics.comb import Candidate, explained
from webapp.physics.partials import SETTLE_S, Measured, measure
from webapp.physics.stiff_string import STIFFNESS_SPREAD, USUAL_STIFFNESS, at_fret
from webapp.physics.take import Asked, Sounding, Take, cut

Floats = NDArray[np.float64]
Place = tuple[int, int]

# What a note must have to be answered.
LEAST_EXPLAINED = 0.5
LEAST_PARTIALS = 2
MOST_SCATTER_CENTS = 6.0
MOST_ERROR_CENTS = 1.0
LEAST_RING_S = 0.4
DISAGREE_CENTS, DISAGREE_ERRORS = 4.0, 4.0
# No give or take smaller than this is ever stated, until real recordings have been compared.
LEAST_STATED_CENTS = 1.0
# What the model leaves out: beating, the walk of a held string, a codec.
MODEL_ERROR_CENTS = 0.045
# A string's partials agree on its stiffness from note to note about this well.
SAME_STRING_SHARE = 0.25
# A take of which less than this share of the notes can be read is refused whole.
LEAST_READ = 0.5

NOT_HEARD = "This note was not heard."
TOO_SHORT = "It rang too briefly: let it ring for two to three seconds."
TOO_FAINT = "Too few of its partials stand out of the noise."
SEVERAL = "More than one string sounds: damp the others."
UNSTEADY = "Its pitch does not settle."
DISAGREE = "The times it was played do not agree: play it again."
NO_NOTE = "No clear note."
NOT_ASKED = "It is none of the notes that were asked for."


@dataclass(frozen=True)
class Note:
    """One note that was asked for: as heard, or ``refused`` with why.

    ``start_s`` seconds into the take and ``pitch_hz`` are NaN where nothing was heard; ``error_cents`` is a
    standard error. A note played once more than asked stands here again.
    """

    string: int
    fret: int
    nominal_hz: float
    start_s: float = math.nan
    pitch_hz: float = math.nan
    error_cents: float = math.nan
    refused: str | None = None


@dataclass(frozen=True)
class Heard:
    """Something heard that was left out: when, at what pitch (None where it has none), and why."""

    start_s: float
    pitch_hz: float | None
    why: str


@dataclass(frozen=True)
class Hearing:
    """A take, read.

    ``differences``: {(string, fret): (cents over that string's open note, standard error)}; ``pitches``:
    {(string, fret): (hertz, standard error in cents)}; ``common_cents``: how far all that was heard lies
    from what was asked; ``refused``: why the whole take is (then nothing is answered); ``asks``: it is
    refused because of the common offset alone, and the player can say whether that is so.
    """

    notes: tuple[Note, ...]
    left_out: tuple[Heard, ...] = ()
    differences: dict[Place, tuple[float, float]] = field(default_factory=dict)
    pitches: dict[Place, tuple[float, float]] = field(default_factory=dict)
    common_cents: float | None = None
    refused: str | None = None
    asks: bool = False


def give_or_take_cents(error_cents: float) -> float:
    """What to state beside a value: two standard errors, never less than ``LEAST_STATED_CENTS``."""
    return max(LEAST_STATED_CENTS, 2.0 * error_cents)


def hear(samples: Sequence[float] | Floats, rate_hz: float, asked: Iterable[Asked]) -> Hearing:
    """Read a take of notes ``asked`` for in order, each (string, fret, nominal pitch in hertz).

    ``samples``: one channel, any scale (integers too); ``rate_hz`` 8 000 to 200 000. A take is refused
    where fewer than 70 % of the notes were heard in order, and asks where all lie more than 60 cents off: a
    shift by a semitone fits any prompt. Raises ``ValueError`` for a rate or a pitch out of range, more than
    one channel, or nothing asked.
    """
    take = cut(samples, rate_hz, asked)
    common = take.matched.common_cents if take.matched.pairs else None
    left_out = _left_out(take)
    if take.refused is not None:
        notes = tuple(Note(*want, refused=take.refused) for want in take.wanted)
        return Hearing(notes, left_out, common_cents=common, refused=take.refused, asks=take.asks)
    notes, pitches = together(_notes(take, rate_hz))
    if sum(note.refused is None for note in notes) < LEAST_READ * len(notes):
        why = "Most of the notes could not be read. " + _commonest(notes)
        refused = tuple(replace(note, refused=note.refused or why) for note in notes)
        return Hearing(refused, left_out, common_cents=common, refused=why)
    return Hearing(notes, left_out, differences(pitches), pitches, common)


def _left_out(take: Take) -> tuple[Heard, ...]:
    used = {heard for heard, _, _ in take.matched.pairs}
    return tuple(
        Heard(s.start_s, s.readings[0].pitch_hz if s.readings else None, NOT_ASKED if s.readings else NO_NOTE)
        for number, s in enumerate(take.soundings)
        if number not in used
    )


def _notes(take: Take, rate_hz: float) -> list[Note]:
    """Every note asked for, measured twice: the second time with the stiffness that its string has shown."""
    first = [
        _measured(
            take, rate_hz, sounding, reading, _prior(USUAL_STIFFNESS, STIFFNESS_SPREAD, take.wanted[a][1])
        )
        for sounding, reading, a in take.pairs
    ]
    own = _stiffness_of_strings([take.wanted[a] for *_, a in take.pairs], first)
    notes = []
    for (sounding, reading, a), before in zip(take.pairs, first, strict=True):
        string, fret, _ = want = take.wanted[a]
        found = before
        if before is not None and string in own:
            stiffness, error = own[string]
            prior = _prior(stiffness, math.hypot(error, SAME_STRING_SHARE * stiffness + 3e-6), fret)
            found = _measured(take, rate_hz, sounding, reading, prior, before)
        notes.append((a, _note(want, sounding, reading, found)))
    seen = {a for a, _ in notes}
    notes += [(a, Note(*want, refused=NOT_HEARD)) for a, want in enumerate(take.wanted) if a not in seen]
    return [note for _, note in sorted(notes, key=lambda item: item[0])]


def _prior(stiffness: float, error: float, fret: int) -> tuple[float, float]:
    return at_fret(stiffness, fret), at_fret(error, fret)


def _measured(
    take: Take,
    rate_hz: float,
    sounding: Sounding,
    reading: Candidate,
    prior: tuple[float, float],
    before: Measured | None = None,
) -> Measured | None:
    start, stop = sounding.start_s, sounding.stop_s
    return measure(take.sound, rate_hz, start, stop, reading.pitch_hz, prior, reading.lowest, before)


def _stiffness_of_strings(
    wanted: list[Asked], found: list[Measured | None]
) -> dict[int, tuple[float, float]]:
    """One open-string B for each string, the middle of what its notes say by weight, with an error."""
    said: dict[int, list[tuple[float, float]]] = {}
    for (string, fret, _), measured in zip(wanted, found, strict=True):
        if measured is not None and measured.partial_count >= 4:
            scale = at_fret(1.0, fret)
            said.setdefault(string, []).append(
                (measured.stiffness / scale, max(measured.stiffness_error / scale, 2e-6))
            )
    own = {}
    for string, values in said.items():
        values.sort()
        share = np.cumsum([1 / error**2 for _, error in values])
        middle = values[int(np.searchsorted(share, 0.5 * share[-1]))][0]
        own[string] = middle, 1 / math.sqrt(float(share[-1]))
    return own


def _note(want: Asked, sounding: Sounding, reading: Candidate, found: Measured | None) -> Note:
    """The note as measured, or refused by the limits at the head of this module."""
    note = Note(*want, start_s=sounding.start_s, pitch_hz=reading.pitch_hz)
    if found is None:
        short = sounding.stop_s - sounding.start_s < SETTLE_S + LEAST_RING_S
        return replace(note, refused=TOO_SHORT if short else TOO_FAINT)
    error = math.hypot(found.error_cents, MODEL_ERROR_CENTS)
    note = replace(note, pitch_hz=found.pitch_hz, error_cents=error)
    if explained(sounding.peaks, found.pitch_hz, found.stiffness) < LEAST_EXPLAINED:
        return replace(note, refused=SEVERAL)
    if found.rings_s < LEAST_RING_S:
        return replace(note, refused=TOO_SHORT)
    if found.partial_count < LEAST_PARTIALS:
        return replace(note, refused=TOO_FAINT)
    if found.scatter_cents > MOST_SCATTER_CENTS or error > MOST_ERROR_CENTS:
        return replace(note, refused=UNSTEADY)
    return note


def together(notes: list[Note]) -> tuple[tuple[Note, ...], dict[Place, tuple[float, float]]]:
    """Put repeats together: (the notes, those that disagree refused; {place: (hertz, error in cents)}).

    What the repeats of all places differ by beyond their own errors is added to each note's error.
    """
    places: dict[Place, list[Note]] = {}
    for note in notes:
        if note.refused is None:
            places.setdefault((note.string, note.fret), []).append(note)
    apart = {place for place, group in places.items() if _disagree(group)}
    excess = _excess([group for place, group in places.items() if place not in apart])
    pitches = {}
    for place, group in places.items():
        if place in apart:
            continue
        weight = np.array([1 / (note.error_cents**2 + excess) for note in group])
        logs = np.array([math.log(note.pitch_hz) for note in group])
        pitches[place] = math.exp(float(weight @ logs / weight.sum())), 1 / math.sqrt(float(weight.sum()))
    told = tuple(
        replace(note, refused=DISAGREE)
        if note.refused is None and (note.string, note.fret) in apart
        else note
        for note in notes
    )
    return told, pitches


def _cents_apart(group: list[Note]) -> Floats:
    cents = np.array([1200 * math.log2(note.pitch_hz / group[0].pitch_hz) for note in group])
    return np.asarray(cents - cents.mean())


def _disagree(group: list[Note]) -> bool:
    away = _cents_apart(group)
    error = math.hypot(*(note.error_cents for note in group))
    return float(np.ptp(away)) > max(DISAGREE_CENTS, DISAGREE_ERRORS * error)


def _excess(groups: list[list[Note]]) -> float:
    """Variance (cents squared) of repeats of a note beyond what their errors explain, over the whole take."""
    freedom = sum(len(group) - 1 for group in groups)
    if not freedom:
        return 0.0
    seen = sum(float((_cents_apart(group) ** 2).sum()) for group in groups) / freedom
    told = sum(note.error_cents**2 for group in groups if len(group) > 1 for note in group)
    count = sum(len(group) for group in groups if len(group) > 1)
    return max(seen - told / count, 0.0)


def differences(pitches: dict[Place, tuple[float, float]]) -> dict[Place, tuple[float, float]]:
    """{(string, fret): (cents over the string's open note, standard error)}; none without its open note."""
    answer = {}
    for (string, fret), (hertz, error) in pitches.items():
        if fret and (string, 0) in pitches:
            open_hz, open_error = pitches[string, 0]
            answer[string, fret] = 1200 * math.log2(hertz / open_hz), math.hypot(error, open_error)
    return answer


def _commonest(notes: Sequence[Note]) -> str:
    whys = [note.refused for note in notes if note.refused]
    return max(set(whys), key=whys.count)
