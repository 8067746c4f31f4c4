"""Doing what the next step says, one step after the other, until a check is reached or the setup ends."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from tests.setups.journals import Bench
from webapp.setups.buzz_marks import next_question
from webapp.setups.journal import Turn
from webapp.setups.states import Act, Step
from webapp.trade.words import Check

Tap = tuple[int, int]


def no_taps() -> Iterable[Tap]:
    return ()


def obey(
    bench: Bench,
    read: Callable[[str], object],
    turn: Callable[[Turn], object],
    *,
    taps: Callable[[], Iterable[Tap]] = no_taps,
    until: Check | None = None,
    most: int = 200,
) -> list[Step]:
    """Read with `read`, tell `turn` of every turn that is made; the steps that were done, the last one too.

    What a page lists is done in one go. Raises AssertionError where there is no end in `most` steps.
    """
    steps: list[Step] = []
    for _ in range(most):
        step = bench.next
        steps.append(step)
        if step.act in (Act.FINISH, Act.STOP) or step.check is until:
            return steps
        if step.act is Act.MEASURE:
            for key in step.places:
                read(key)
        elif step.act is Act.DECIDE:
            for made in advised(bench, step):
                turn(made)
                bench.log(made)
        elif step.act is Act.REST:
            bench.wait(hours=step.hours)
        else:
            _answer(bench, step, taps)
    raise AssertionError(f"no end in sight: {[(s.act.value, s.place) for s in steps[-12:]]}")


def advised(bench: Bench, step: Step) -> list[Turn]:
    """The turns of a step, each once: two posts, or both frets of a string, ask for the same one."""
    found = [bench.state(key).advice for key in step.places]
    turns = [advice.turn for advice in found if advice is not None and advice.turn is not None]
    assert turns, step
    return list(dict.fromkeys(turns))


def _answer(bench: Bench, step: Step, taps: Callable[[], Iterable[Tap]]) -> None:
    if step.place == "height.buzz":
        bench.buzz(*taps())
    elif step.place == "height.cause":
        bench.observe(step.place, asked=next_question(bench.case()), answer="no")
    elif step.place == "start":
        bench.start()
    else:
        bench.observe(step.place, heard=[], symptoms=[], signed=True)
