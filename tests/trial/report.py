"""The table: the seat beside the recipe, then by tool and by kind, then the worst cases by their number."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from math import sqrt

import numpy as np

from tests.trial.player import Look
from tests.trial.run import Case
from tests.trial.score import Result

HALF_90 = 1.645  # half of a 90 % interval, in standard deviations
Picked = Callable[[Result], float]


@dataclass(frozen=True)
class Column:
    """One way of doing it: its name and what it came to on every instrument."""

    name: str
    results: Sequence[Result]

    def median(self, of: Picked) -> str:
        return f"{np.median([of(result) for result in self.results]):.1f}" if self.results else "-"

    def share(self, of: Picked, among: Picked = lambda result: 1.0) -> str:
        chosen = [of(result) for result in self.results if among(result)]
        return f"{np.mean(chosen):.3f}" if chosen else "-"

    def total(self, of: Picked) -> str:
        return f"{sum(of(result) for result in self.results):g}" if self.results else "-"


def strings_within(results: Iterable[Result], high: bool, cents: float) -> float:
    """Share of strings, on bridges whose saddles turn, with the 12th (or high fret) within so many cents."""
    errors = [
        error
        for result in results
        if result.reach.adjustable
        for error in (result.end.cents_high if high else result.end.cents_12)
    ]
    return float(np.mean(np.abs(errors) <= cents)) if errors else float("nan")


def against_share(results: Iterable[Result]) -> float:
    """Share of turns, pickups left out, that were advised the wrong way."""
    results = list(results)
    turns = sum(result.counts.turns for result in results)
    return sum(result.counts.turns_against for result in results) / turns if turns else 0.0


@dataclass(frozen=True)
class Honesty:
    """How far the truth lay from what was shown, in its own give or take: 1 and 0.90 are honest."""

    count: int
    z: float
    coverage: float

    def __str__(self) -> str:
        return (
            f"z {self.z:.2f}, 90 % holds {100 * self.coverage:.0f} % of {self.count}" if self.count else "-"
        )


def honesty(looks: Iterable[Look]) -> Honesty:
    """z is the root of the mean square, each cut at 5 so that one slip does not speak for all."""
    off = np.array([abs(look.value - look.true) / (look.give_or_take / HALF_90) for look in looks])
    if not len(off):
        return Honesty(0, float("nan"), float("nan"))
    return Honesty(len(off), sqrt(float(np.mean(np.minimum(off, 5.0) ** 2))), float(np.mean(off <= HALF_90)))


def looks_of(results: Iterable[Result], check: str, at_end: bool) -> list[Look]:
    return [
        look
        for r in results
        for look in r.looks
        if look.at_end == at_end and look.slot.split(".")[0] == check
    ]


def table(cases: Sequence[Case]) -> str:
    """Everything, as text."""
    recipe = Column("recipe", [case.recipe for case in cases if case.recipe])
    first = Column("seat", [case.passes[0] for case in cases if case.passes])
    again = any(len(case.passes) > 1 for case in cases)
    later = Column("2nd pass", [case.passes[-1] for case in cases if case.passes] if again else [])
    columns = [column for column in (first, later, recipe) if column.results]
    parts = [_rows(columns), _by(columns, "by relief tool", lambda r: r.relief_tool)]
    parts += [
        _by(columns, "by height tool", lambda r: r.height_tool),
        _by(columns, "by kind", lambda r: r.kind),
    ]
    if first.results:
        parts += [_honesty(first, later), _promises(first), _worst(cases)]
    return "\n\n".join(part for part in parts if part)


def _rows(columns: Sequence[Column]) -> str:
    lines = [("", *(column.name for column in columns))]

    def row(name: str, cell: Callable[[Column], str]) -> None:
        lines.append((name, *(cell(column) for column in columns)))

    row("instruments", lambda c: str(len(c.results)))
    row("turns without pickups, median", lambda c: c.median(lambda r: r.counts.turns))
    row("readings without nut and pickups, median", lambda c: c.median(lambda r: r.counts.readings))
    for check in ("relief", "height", "intonation"):
        row(f"  {check}: turns", partial(_median_of, check, 0))
        row(f"  {check}: readings", partial(_median_of, check, 1))
    row("pickup turns, median", lambda c: c.median(lambda r: r.counts.pickup_turns))
    row("pickup readings, median", lambda c: c.median(lambda r: r.counts.pickup_readings))
    row("nut readings, median", lambda c: c.median(lambda r: r.counts.nut_readings))
    row("boards, median", lambda c: c.median(lambda r: r.counts.boards))
    row("rests, all", lambda c: c.total(lambda r: r.counts.rests))
    row("steps, median", lambda c: c.median(lambda r: r.counts.steps))
    row("right where it can be reached", lambda c: c.share(lambda r: r.end.all_right, lambda r: r.can_be))
    row("  relief", lambda c: c.share(lambda r: r.end.relief, lambda r: r.can_be))
    row("  all heights", lambda c: c.share(lambda r: r.end.heights, lambda r: r.can_be))
    row("  all 12ths within 5 cents", lambda c: c.share(lambda r: r.end.cents_5, lambda r: r.can_be))
    row("right over all", lambda c: c.share(lambda r: r.end.all_right))
    row("can be reached", lambda c: c.share(lambda r: r.can_be))
    row("right at the start", lambda c: c.share(lambda r: r.start.all_right))
    row("12ths within 3 cents, strings", lambda c: f"{strings_within(c.results, False, 3.0):.3f}")
    row("high frets within 5 cents, strings", lambda c: f"{strings_within(c.results, True, 5.0):.3f}")
    row(
        "pickup sides in their usual band",
        lambda c: c.share(_pickups_usual, lambda r: r.end.pickup_sides != ()),
    )
    row(
        "still rattles, no fault of a part",
        lambda c: c.share(lambda r: r.end.rattles > 0, lambda r: not r.faulty),
    )
    row("never ended", lambda c: c.total(lambda r: r.never_ended))
    row("broke", lambda c: c.total(lambda r: bool(r.failure)))
    row("turns advised the wrong way", lambda c: f"{100 * against_share(c.results):.2f} %")
    row("more than a quarter of rod at once", lambda c: c.total(lambda r: r.counts.rod_at_once))
    row("more than eight eighths of rod in all", lambda c: c.total(lambda r: r.rod_net_over))
    row("working rod called dead", lambda c: c.total(lambda r: r.rod_called_dead))
    row("false repairers otherwise", lambda c: c.total(lambda r: r.false_repairers))
    row("dead rods named", lambda c: f"{c.total(lambda r: r.dead_named)} of {c.total(lambda r: r.rod_dead)}")
    row("seconds each, mean", lambda c: c.share(lambda r: r.seconds))
    return _aligned(lines)


def _pickups_usual(result: Result) -> float:
    return float(np.mean(result.end.pickup_sides))


def _median_of(check: str, which: int, column: Column) -> str:
    return column.median(lambda result: result.counts.by_check[check][which])


def _by(columns: Sequence[Column], title: str, key: Callable[[Result], str]) -> str:
    names = sorted({key(result) for column in columns for result in column.results})
    heads = [f"{column.name}: right/turns/readings" for column in columns]
    lines: list[tuple[str, ...]] = [(title, "n", *heads)]
    for name in names:
        cells = []
        for column in columns:
            part = Column(column.name, [r for r in column.results if key(r) == name])
            right = part.share(lambda r: r.end.all_right, lambda r: r.can_be or not r.reach.adjustable)
            turns, readings = part.median(lambda r: r.counts.turns), part.median(lambda r: r.counts.readings)
            cells.append(f"{right} / {turns} / {readings}")
        lines.append((name, str(sum(key(r) == name for r in columns[0].results)), *cells))
    return _aligned(lines)


def _honesty(first: Column, later: Column) -> str:
    lines: list[tuple[str, ...]] = [("honesty", "at the end", "on the way", "2nd pass, end")]
    for check in ("relief", "height", "nut", "intonation", "pickups"):
        now = honesty(looks_of(first.results, check, True))
        way = honesty(looks_of(first.results, check, False))
        then = honesty(looks_of(later.results, check, True))
        lines.append((check, str(now), str(way), str(then)))
    tools: tuple[tuple[str, Callable[[Result], str]], ...] = (
        ("relief", lambda r: r.relief_tool),
        ("height", lambda r: r.height_tool),
    )
    for check, tool_of in tools:
        for tool in sorted({tool_of(result) for result in first.results}):
            chosen = [result for result in first.results if tool_of(result) == tool]
            at_end, on_way = (str(honesty(looks_of(chosen, check, end))) for end in (True, False))
            lines.append((f"{check} by {tool}", at_end, on_way, ""))
    return _aligned(lines)


def _promises(first: Column) -> str:
    """What was called usual with a chance, against how often it was."""
    looks = [look for r in first.results for look in r.looks if look.usual is not None and look.at_end]
    lines: list[tuple[str, ...]] = [("said to be usual, at the end", "places", "said", "were")]
    for low, high in ((0.0, 0.5), (0.5, 0.8), (0.8, 0.93), (0.93, 0.985), (0.985, 1.01)):
        chosen = [look for look in looks if look.usual is not None and low <= look.usual < high]
        if chosen:
            said = np.mean([look.usual for look in chosen if look.usual is not None])
            were = np.mean([look.truly_usual for look in chosen])
            lines.append(
                (f"{low:.3f} to {min(high, 1.0):.3f}", str(len(chosen)), f"{said:.3f}", f"{were:.3f}")
            )
    return _aligned(lines) if len(lines) > 1 else ""


def _worst(cases: Sequence[Case], most: int = 14) -> str:
    """The instruments to look at first, each with what went wrong; replay one by its number."""
    faults = []
    for case in cases:
        for number, result in enumerate(case.passes):
            said = complaints(result)
            if said:
                words = ", ".join(text for _, text in said)
                place = f"{case.index:4d} pass {number + 1} {result.kind}"
                faults.append((sum(weight for weight, _ in said), f"{place}: {words}"))
    faults.sort(key=lambda fault: -fault[0])
    heading = ["worst, by number (--only NUMBER --verbose)"]
    return "\n".join(heading + [text for _, text in faults[:most]]) if faults else ""


def complaints(result: Result) -> list[tuple[int, str]]:
    """What is wrong with a result, each with a weight."""
    found = [
        (20, f"broke: {result.failure}" if result.failure else ""),
        (15, "never ended" if result.never_ended else ""),
        (10, "working rod called dead" if result.rod_called_dead else ""),
        (8, "not right though it can be" if result.can_be and not result.end.all_right else ""),
        (3, "relief" if result.can_be and not result.end.relief else ""),
        (3, "heights" if result.can_be and not result.end.heights else ""),
        (2, "12ths" if result.can_be and not result.end.cents_5 else ""),
        (6, "more than a quarter of rod" if result.counts.rod_at_once else ""),
        (6, "rod over eight eighths" if result.rod_net_over else ""),
        (5, f"{result.false_repairers} false repairers" if result.false_repairers else ""),
        (2, f"{result.counts.turns_against} turns the wrong way" if result.counts.turns_against else ""),
        (1, f"{result.counts.steps} steps" if result.counts.steps > 120 else ""),
    ]
    return [(weight, text) for weight, text in found if text]


def _aligned(lines: Sequence[tuple[str, ...]]) -> str:
    widths = [max(len(line[i]) for line in lines) for i in range(len(lines[0]))]
    rows = []
    for name, *cells in lines:
        right = [cell.rjust(width) for cell, width in zip(cells, widths[1:], strict=True)]
        rows.append("  ".join([name.ljust(widths[0]), *right]).rstrip())
    return "\n".join(rows)
