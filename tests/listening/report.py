"""The table: by damage, by string, and for takes without notes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import numpy as np

from tests.listening.damage import DAMAGES
from tests.listening.not_notes import KINDS
from tests.listening.strings import STRINGS
from tests.listening.trial import Score

HEADINGS = (
    ("takes", 6),
    ("95 %", 7),
    ("99 %", 7),
    ("z", 6),
    ("in", 6),
    ("read", 7),
    ("right", 7),
    ("wrong", 7),
)
HEAD = " " * 16 + "".join(f"{word:>{width}}" for word, width in HEADINGS) + "  refused"


def table(scores: list[Score]) -> str:
    played = [score for score in scores if score.label in STRINGS]
    tuned = [score for score in scores if score.label == "tuning"]
    lines = ["Difference to the open string, cents", HEAD]
    lines += [row(damage, [s for s in played if s.damage == damage]) for damage in DAMAGES]
    lines += ["", HEAD]
    lines += [row(name, [s for s in played if s.label == name]) for name in STRINGS]
    lines += ["", "Tuning: absolute pitch, the clock's own error taken out", HEAD]
    lines += [
        row(damage, [s for s in tuned if s.damage == damage], lambda s: s.pitches) for damage in DAMAGES
    ]
    lines += ["", "Takes without notes"]
    for kind in KINDS:
        these = [score for score in scores if score.label == kind]
        answered = sum(score.answered > 0 for score in these)
        lines.append(f"  {kind:<16}{len(these):>5} takes, {answered} answered")
    minutes = sum(score.sound_s for score in scores) / 60
    worst = max(60 * score.cpu_s / score.sound_s for score in scores)
    lines += ["", f"Processor: {sum(s.cpu_s for s in scores) / minutes:.2f} s a minute, at most {worst:.2f}"]
    lines += ["Notes refused: " + whys(played + tuned)]
    return "\n".join(lines)


def row(
    label: str,
    scores: list[Score],
    values: Callable[[Score], list[tuple[float, float]]] = lambda score: score.differences,
) -> str:
    pairs = np.array([pair for score in scores for pair in values(score)])
    if not len(pairs):
        return f"{label:<16}{len(scores):>6}  nothing answered"
    away, error = np.abs(pairs[:, 0]), pairs[:, 1]
    z = np.sqrt(np.mean(np.clip(away / error, 0, 4) ** 2))
    within = np.mean(away <= np.maximum(1.0, 2 * error))
    asked = sum(len(s.pitches) if s.label == "tuning" else s.places for s in scores)
    notes = sum(score.notes for score in scores)
    right = 100 * sum(score.assigned for score in scores) / notes
    wrong = 100 * sum(score.wrong for score in scores) / notes
    return (
        f"{label:<16}{len(scores):>6}{np.quantile(away, 0.95):>7.2f}{np.quantile(away, 0.99):>7.2f}{z:>6.2f}"
        f"{100 * within:>5.0f}%{100 * len(pairs) / max(asked, 1):>6.0f}%"
        f"{right:>6.1f}%{wrong:>6.2f}%"
        f"{sum(s.refused is not None for s in scores):>9}"
    )


def whys(scores: list[Score]) -> str:
    counted = Counter(why.split(":")[0] for score in scores for why in score.why)
    return "; ".join(f"{count} {why}" for why, count in counted.most_common()) or "none"
