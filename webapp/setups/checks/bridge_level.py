"""A floating bridge: whether it sits level, and the springs that hold it so."""

from __future__ import annotations

import numpy as np

from webapp.physics.mixture import Floats
from webapp.setups.advice import Advice, Forecast
from webapp.setups.belief.places import PITCH
from webapp.setups.belief.standing import uses_of
from webapp.setups.case import Case
from webapp.setups.checks.screws import best_eighths, rows_turned
from webapp.setups.checks.view import Answer, View
from webapp.setups.journal import NO_ROOM, Part, Turn
from webapp.setups.verdicts import Word, word_of


def lines(case: Case) -> tuple[str, str]:
    """What to look at, and what to read."""
    first = "With every string in tune, look at the bridge from the side."
    if case.spec.bridge.level_mm is None:
        return first, "How much higher over the body is its rear edge than its front edge? Lower is minus."
    return first, "How high over the body is its rear edge?"


# Practice: a quarter turn of both claw screws, then every string is tuned again.
MOST_EIGHTHS = 2

_MEANS = {
    Word.GOOD: "Level: the springs and the strings hold each other.",
    Word.TOUCH_HIGH: "It leans toward the neck a little.",
    Word.TOO_HIGH: "It leans toward the neck: the springs are too slack for these strings.",
    Word.TOUCH_LOW: "It leans back a little.",
    Word.TOO_LOW: "It leans back: the springs pull harder than these strings.",
}


# Tightening the springs draws the rear edge down.
_GAIN = np.array([-1.0])


def level_answer(case: Case, view: View) -> Answer:
    """Both claw screws alike, a quarter turn at most, then retune and look again."""
    bands, enough = case.bands(view.slot), case.trade.belief.enough
    means = _MEANS[word_of(view.mean, bands)]
    level = case.belief.level
    per_turn = level.mixture.moments(level.mixture.unit(PITCH))[0]

    row = case.standing(view.slot).row

    def uses(eighths: Floats) -> Floats:
        return uses_of(level.mixture, rows_turned(row, PITCH, -1.0, eighths), bands, enough)

    eighths, gain = best_eighths(uses, 8 * (view.mean - bands.target.middle) / per_turn, most=MOST_EIGHTHS)
    if not eighths:
        return Answer(Advice(means))
    verb, clock = ("Tighten", "clockwise") if eighths > 0 else ("Loosen", "anticlockwise")
    then = level.turned(eighths, _GAIN)
    forecast = Forecast(then.mixture.moments(row)[0], then.mixture.half_width(row), "what springs usually do")
    do = (
        "Slacken the strings first where the maker says so: the springs are under load.",
        f"{verb} both claw screws in the back {case.say.turns(eighths)}, alike: {clock}, "
        "looking straight at their heads.",
        "Tune every string, twice: each one moves the others.",
    )
    return Answer(
        Advice(means, do, Turn(Part.SPRINGS, eighths), forecast, "Look at it again.", outcomes=(NO_ROOM,)),
        gain,
    ).tried_on(view, enough.turn)
