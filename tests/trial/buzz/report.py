"""What a finder made of the planted instruments: who is taken for whom, and whether its chances are kept."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

KEYS = (
    "too_low", "too_straight", "too_bowed", "nut_low", "uneven_fret", "upper_board", "loose", "old_string",
    "technique",
)  # fmt: skip


@dataclass(frozen=True)
class Result:
    """One instrument: the planted cause, how a finder names it, and its (key, chance), the likeliest
    first."""

    cause: str
    key: str
    ranked: tuple[tuple[str, float], ...]

    @property
    def first(self) -> str:
        return self.ranked[0][0]

    @property
    def chance(self) -> float:
        return self.ranked[0][1]

    @property
    def right(self) -> bool:
        return self.first == self.key

    @property
    def near(self) -> bool:
        return self.key in [key for key, _ in self.ranked[:2]]


@dataclass(frozen=True)
class Bin:
    """First causes whose chance lies in [low, high): how many, what was said on average, and how often it
    was so."""

    low: float
    high: float
    count: int
    said: float
    right: float


def share(results: Sequence[Result], what: str) -> float:
    """Of `right` or `near`: the mean over the causes, each weighing alike."""
    by_key = {key: [getattr(r, what) for r in results if r.key == key] for key in KEYS}
    means = [sum(found) / len(found) for found in by_key.values() if found]
    return sum(means) / len(means)


def bins(results: Sequence[Result], edges: Sequence[float] = tuple(i / 10 for i in range(11))) -> list[Bin]:
    """How what was said of the first cause was kept, in steps of 10 %."""
    found = []
    for low, high in zip(edges, edges[1:], strict=False):
        some = [r for r in results if low <= r.chance < high or (high == 1.0 and r.chance == 1.0)]
        if some:
            said, right = (sum(v) / len(some) for v in ([r.chance for r in some], [r.right for r in some]))
            found.append(Bin(low, high, len(some), said, right))
    return found


def around(results: Sequence[Result], chance: float, half: float = 0.05) -> Bin | None:
    """The same for every cause, first or not, of which about this chance was said."""
    some = [
        (said, key == result.key)
        for result in results
        for key, said in result.ranked
        if chance - half <= said < chance + half
    ]
    if not some:
        return None
    said, right = (sum(v) / len(some) for v in zip(*some, strict=True))
    return Bin(chance - half, chance + half, len(some), said, right)


def table(results: Sequence[Result]) -> str:
    """Planted down, named first across; then the shares; then what was said against what was so."""
    taken = Counter((r.cause, r.first) for r in results)
    causes = list(dict.fromkeys(r.cause for r in results))
    lines = ["| planted | " + " | ".join(key.replace("_", " ") for key in KEYS) + " | first | first two |"]
    lines.append("|---" * (len(KEYS) + 3) + "|")
    for cause in causes:
        own = [r for r in results if r.cause == cause]
        cells = " | ".join(str(taken[cause, key] or "·") for key in KEYS)
        right, near = (sum(getattr(r, what) for r in own) / len(own) for what in ("right", "near"))
        lines.append(f"| {cause.replace('_', ' ')} | {cells} | {right:.2f} | {near:.2f} |")
    lines += ["", f"{len(results)} instruments, mean over {len({r.key for r in results})} causes: "
              f"first {share(results, 'right'):.3f}, first two {share(results, 'near'):.3f}"]  # fmt: skip
    lines += ["", "| said of the first | instruments | said | was so |", "|---|---|---|---|"]
    lines += [
        f"| {b.low:.0%} to {b.high:.0%} | {b.count} | {b.said:.2f} | {b.right:.2f} |" for b in bins(results)
    ]
    middle = around(results, 0.8)
    if middle:
        lines += ["", f"Of any cause said at 75 to 85 %: {middle.count}, was so {middle.right:.2f}"]
    return "\n".join(lines)
