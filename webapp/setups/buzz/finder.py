"""Why it buzzes: the causes of the newest buzz board, the likeliest first, and what to do about each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from webapp.setups.buzz.evidence import Evidence, Witness
from webapp.setups.buzz.scene import Scene, scene_of
from webapp.setups.buzz.weigh import Suspect, Weighed, Weighing
from webapp.setups.buzz_marks import board_outdated
from webapp.setups.case import Case
from webapp.setups.slots import string_label
from webapp.trade.buzz import BuzzCause, CauseKey
from webapp.trade.spec import NO_SCREW
from webapp.trade.words import BridgeType, RodType

LIKELY, POSSIBLE = 0.5, 0.1


@dataclass(frozen=True)
class Cause:
    """One cause with its share of the odds (0 to 1, all causes together 1), and what to do about it.

    `suspects` are the frets to look at, the likelier first, for the causes that name one.
    """

    key: CauseKey
    name: str
    score: float
    evidence: tuple[Evidence, ...]
    test: str
    fix: str
    player: bool
    strings: tuple[int, ...] = ()
    suspects: tuple[Suspect, ...] = ()

    @property
    def standing(self) -> str:
        """How sure that is, in a word."""
        if self.score >= LIKELY:
            return "likely"
        return "possible" if self.score >= POSSIBLE else "less likely"

    @property
    def who(self) -> str:
        return "You can put this right yourself." if self.player else "This is for a repairer."


@dataclass(frozen=True)
class Findings:
    """The causes, the likeliest first; whether something was turned since; what was not measured."""

    causes: tuple[Cause, ...]
    outdated: bool = False
    missing: tuple[str, ...] = ()


def findings(case: Case) -> Findings:
    """The causes of the newest board of buzzing notes; none where nothing buzzed or nothing was plucked."""
    scene = scene_of(case)
    if scene is None:
        return Findings(())
    weighed = sorted(Weighing(case, scene).weigh(), key=lambda w: -w.log_odds)
    sheet = case.trade.buzz
    odds = np.exp(sheet.sharpened * (np.array([w.log_odds for w in weighed]) - weighed[0].log_odds))
    # However plain it looks, now and then it is none of what was weighed.
    shares = (1 - sheet.unlike) * odds / odds.sum() + sheet.unlike / odds.size
    witness = Witness(case, scene)
    causes = tuple(
        _cause(case, witness, one, float(share)) for one, share in zip(weighed, shares, strict=True)
    )
    return Findings(causes, board_outdated(case.journal, scene.board), _missing(case, scene))


def _cause(case: Case, witness: Witness, weighed: Weighed, score: float) -> Cause:
    known = case.trade.buzz.of(weighed.key)
    player = known.who == "player"
    fix = known.fix
    if player and not can_turn(case, weighed.key):
        player, fix = False, known.fix_repairer or known.fix
    places = _places(case, weighed)
    return Cause(
        key=weighed.key,
        name=known.name,
        score=score,
        evidence=witness.evidence(weighed),
        test=_test(known, player).format(**places),
        fix=fix.format(**places),
        player=player,
        strings=weighed.strings,
        suspects=weighed.suspects,
    )


def _test(known: BuzzCause, player: bool) -> str:
    return known.test if player or not known.test_repairer else known.test_repairer


def can_turn(case: Case, key: CauseKey) -> bool:
    """Whether this instrument has the screw that this cause asks for."""
    spec = case.spec
    if key in (CauseKey.TOO_STRAIGHT, CauseKey.TOO_BOWED):
        return spec.rod.type is not RodType.NONE
    if key is CauseKey.TOO_LOW:
        return spec.bridge.type is not BridgeType.ONE_PIECE and spec.bridge.height_thread != NO_SCREW
    return True


def _places(case: Case, weighed: Weighed) -> dict[str, str | int]:
    """The fret to try with a straight edge, its neighbours, and the string."""
    last = case.spec.fret_count
    fret = rocker_fret(weighed.suspects, last)
    below = min(max(fret - 1, 1), last - 2)
    number = weighed.strings[0] if weighed.strings else case.spec.string_count
    return {"fret": fret, "below": below, "above": below + 2, "string": string_label(case.spec, number)}


def rocker_fret(suspects: tuple[Suspect, ...], last: int) -> int:
    """The fret that a rocker should find proud: a suspect, or the next one up from a worn one."""
    for suspect in suspects:
        if suspect.high:
            return suspect.fret
    return min(suspects[0].fret + 1, last) if suspects else 1


def _missing(case: Case, scene: Scene) -> tuple[str, ...]:
    """What stands at its usual size because it was never measured."""
    read = scene.case.belief.read
    heights, slots = ([n for n in scene.numbers if f"{check}.{n}" not in read] for check in ("height", "nut"))
    return (
        *(("relief",) if "relief" not in read else ()),
        *_some(case, "string height", heights),
        *_some(case, "gap at the nut", slots),
    )


def _some(case: Case, what: str, numbers: list[int]) -> tuple[str, ...]:
    if len(numbers) == case.spec.string_count:
        return (f"every {what}",)
    return tuple(f"{what} of the {string_label(case.spec, number)}" for number in numbers)
