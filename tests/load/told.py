"""What came out, in words: the table of the routes, what it cost, and a line for each goal."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

from tests.load.playing import Run
from tests.load.routes import route_of
from tests.load.tally import StepTaken, by_route, percentile

STEP_WITHIN_MS = 150
WORKER_MB = 150
# What counts as flat, as having kept the pace, as late.
FLAT_MB_A_MINUTE = 1.0
PACE_KEPT = 0.95
LATE_MS = 100
JUDGED_FROM_S = 120
EXAMPLES = 3


def told(run: Run, lost: int, troubles: list[str]) -> Iterator[str]:
    """All lines. `lost` is how many steps that were promised to be kept are not there."""
    yield from _routes(run)
    yield from _steps(run, lost)
    yield from _cost(run)
    yield from _memory(run)
    yield from _errors(run, lost, troubles)
    yield ""
    yield from goals(run, lost)


def _routes(run: Run) -> Iterator[str]:
    yield ""
    yield f"{'all the time':<52}{'count':>8}{'p50 ms':>9}{'p95 ms':>9}{'p99 ms':>9}{'errors':>8}"
    for line in by_route(run.tally.asked, run.tally.faults, route_of):
        times = "".join(f"{ms:9.1f}" for ms in (line.p50_ms, line.p95_ms, line.p99_ms))
        yield f"{line.route:<52}{line.count:8}{times}{line.errors or '':>8}"


def _steps(run: Run, lost: int) -> Iterator[str]:
    steps, tally = steady_steps(run), run.tally
    yield ""
    yield (
        f"{tally.came_in} came in; {len(tally.steps)} steps, {tally.setups_finished} setups finished, "
        f"{tally.handed_in} handed in; {len(tally.kept)} steps promised to be in a journal, {lost} not there."
    )
    yield f"With everybody in, {run.ended_s - run.steady_s:.0f} s: {rate_per_s(run):.1f} steps a second."
    for what, took in (
        ("the form answered", [step.sent_ms for step in steps]),
        ("the next page there", [step.whole_ms for step in steps]),
    ):
        p50, p95, p99 = (percentile(took, percent) for percent in (50, 95, 99))
        yield f"  {what:<20} p50 {p50:7.1f}  p95 {p95:7.1f}  p99 {p99:7.1f} ms"
    late = [step.late_ms for step in steps if step.late_ms > LATE_MS]
    if late:
        yield (
            f"  THE PACE WAS NOT KEPT by {len(late)} of {len(steps)} steps: they were sent up to "
            f"{max(late) / 1000:.1f} s after their time, for the one before was not done."
        )


def _cost(run: Run) -> Iterator[str]:
    before, after = run.spent
    lasted_s = max(after.at_s - before.at_s, 0.001)
    spent_s = {
        f"worker {number + 1}": now - then
        for number, (then, now) in enumerate(zip(before.workers_s, after.workers_s, strict=True))
    }
    if run.usage.database is not None:
        spent_s["PostgreSQL"] = after.database_s - before.database_s
    spent_s["the load maker itself"] = after.load_maker_s - before.load_maker_s
    step_ms = 1000 * sum(spent_s.values()) / max(len(steady_steps(run)), 1)
    spent_s["everything else on it"] = after.others_s - before.others_s
    yield f"Processor seconds in these {lasted_s:.0f} s (they all share this computer):"
    for name, seconds in spent_s.items():
        yield f"  {name:<22} {seconds:7.1f}  {seconds / lasted_s:6.0%} of a core"
    yield f"  A step, with all that belongs to it and comes between, cost {step_ms:.1f} ms of them."
    delay_ms = percentile(run.usage.delays_ms, 95)
    yield f"  The load maker was late to its own work by {delay_ms:.1f} ms (p95); the times hold it too."


def _memory(run: Run) -> Iterator[str]:
    yield "Workers' memory in MB at the start, each minute, at the end; growth a minute in the last four:"
    for number, (pid, seen) in enumerate(run.usage.memory_mb.items()):
        shown = [mb for nth, (_, mb) in enumerate(seen) if nth % run.usage.samples_each(60) == 0]
        marks = " ".join(f"{mb:.0f}" for mb in (*shown, seen[-1][1]))
        yield f"  worker {number + 1}: {marks}; {_growth(run, pid):+.2f}"


def _errors(run: Run, lost: int, troubles: list[str]) -> Iterator[str]:
    faults = run.tally.faults
    if not (faults or lost):
        return
    yield ""
    yield f"{len(faults)} errors. The first:"
    for fault in faults[:EXAMPLES]:
        yield f"  {route_of(fault.method, fault.path)}: {fault.words}"
    if troubles:
        yield "The server's own log says:"
        yield from (f"  {trouble}" for trouble in troubles)


def goals(run: Run, lost: int) -> Iterator[str]:
    """A line for each goal."""
    faults = len(run.tally.faults)
    yield _line("no error, nothing lost", not (faults or lost), f"{faults} errors, {lost} lost")
    p95_ms = percentile([step.sent_ms for step in steady_steps(run)], 95)
    rate = rate_per_s(run)
    if run.options.form == "class":
        asked = run.options.steps_per_s
        said = f"{p95_ms:.0f} ms at {rate:.1f} of {asked:g} steps a second"
        kept = rate >= PACE_KEPT * asked
        met = kept and p95_ms < STEP_WITHIN_MS
        yield _line(f"a step's p95 below {STEP_WITHIN_MS} ms, at the pace asked", met, said)
    else:
        said = f"{p95_ms:.0f} ms, {rate:.1f} steps a second without any thinking"
        yield _line(f"a step's p95 below {STEP_WITHIN_MS} ms", p95_ms < STEP_WITHIN_MS, said)
    most_mb = max(mb for seen in run.usage.memory_mb.values() for _, mb in seen)
    yield _line(f"a worker below {WORKER_MB} MB", most_mb < WORKER_MB, f"{most_mb:.0f} MB at most")
    growth = max((_growth(run, pid) for pid in run.usage.memory_mb), key=lambda mb: (isnan(mb), mb))
    # Caches fill at first, and a few samples are no slope.
    too_short = run.ended_s - run.steady_s < JUDGED_FROM_S
    flat = None if too_short else growth <= FLAT_MB_A_MINUTE
    yield _line(f"and flat (at most {FLAT_MB_A_MINUTE:g} MB a minute)", flat, f"{growth:+.2f} MB a minute")


def steady_steps(run: Run) -> list[StepTaken]:
    """Those that were sent when everybody was in."""
    return [step for step in run.tally.steps if step.at_s >= run.steady_s]


def rate_per_s(run: Run) -> float:
    return len(steady_steps(run)) / max(run.ended_s - run.steady_s, 0.001)


def _growth(run: Run, pid: int) -> float:
    return run.usage.growth_mb_a_minute(pid, run.steady_s, run.ended_s)


def _line(goal: str, met: bool | None, said: str) -> str:
    verdict = {True: "met", False: "NOT MET", None: "TOO SHORT TO SAY"}[met]
    return f"{verdict:<8} {goal}: {said}"
