"""The process that listens to one take: the take on standard input, what was asked in the argument; on
standard output the answer as a line of JSON, then the samples, plain, so that its notes can be heard again.
It binds its own hands before it looks at the file.

    python -m webapp.hearing.child '{"asked": [[4, 0, 41.2], ...], "buzz": false}' < take
"""

from __future__ import annotations

import json
import sys
from typing import Any, BinaryIO

from webapp.hearing.apart import bind, step_back

PROCESSOR_S = 90
MEMORY_BYTES = 1_500_000_000
# Further off than this it is another string, not another tuning.
MOST_SEMITONES = 3
TOO_LARGE = "This take needs more memory than there is. Record one string at a time."


def listen(file: BinaryIO, asked: list[tuple[int, int, float]], buzz: bool) -> tuple[dict[str, Any], bytes]:
    """The packed answer for a take, and its plain sound where it has notes to be heard again."""
    from webapp.hearing.answers import Answer, packed, semitones
    from webapp.hearing.decoding import NotHeard, plain_sound, samples_of
    from webapp.physics.buzz_sound import hear_buzzes
    from webapp.physics.listening import hear

    try:
        samples, rate_hz = samples_of(file)
    except NotHeard as why:
        return packed(Answer(refused=why.sentence)), b""
    except MemoryError:
        return packed(Answer(refused=TOO_LARGE)), b""
    seconds = len(samples) / rate_hz
    if buzz:
        found = hear_buzzes(samples, rate_hz, asked)
        buzzes = Answer(
            found.refused or "", seconds, marks=found.marks, unread=found.unread, starts_s=found.starts_s
        )
        return packed(buzzes), plain_sound(samples, rate_hz) if found.starts_s else b""
    hearing = hear(samples, rate_hz, asked)
    shift = semitones(hearing.common_cents or 0.0) if hearing.asks else 0
    answer = Answer("", seconds, hearing)
    if 0 < abs(shift) <= MOST_SEMITONES:
        lower = [(string, fret, hertz * 2 ** (shift / 12)) for string, fret, hertz in asked]
        answer = Answer("", seconds, hearing, shift, hear(samples, rate_hz, lower))
    has_notes = hearing.refused is None or hearing.left_out or answer.shifted
    return packed(answer), plain_sound(samples, rate_hz) if has_notes else b""


def main() -> None:
    """Listens, and says what was heard."""
    bind(PROCESSOR_S, MEMORY_BYTES)
    step_back()
    told = json.loads(sys.argv[1])
    asked = [(int(string), int(fret), float(hertz)) for string, fret, hertz in told["asked"]]
    answer, sound = listen(sys.stdin.buffer, asked, bool(told["buzz"]))
    sys.stdout.buffer.write(json.dumps(answer).encode() + b"\n" + sound)


if __name__ == "__main__":
    main()
