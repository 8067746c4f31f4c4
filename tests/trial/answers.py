"""What the player says when asked: true of the instrument, as far as ears and hands can tell."""

from __future__ import annotations

from tests.trial.hands import Hands


def answers(hands: Hands, name: str, choices: list[str]) -> list[str]:
    """The choices that are true of the instrument; else the one that says that nothing is."""
    marks = hands.instrument.rattles()
    true = [choice for choice in choices if _holds(hands, choice, marks)]
    if true:
        return true
    if {"yes", "no"} <= set(choices):
        return ["yes" if _is_so(hands, name, marks) else "no"]
    return [choice for choice in _NOTHING if choice in choices][:1]


_NOTHING = ("none", "no", "nothing", "fine", "good", "clean", "ok", "not_sure", "unknown")


def _holds(hands: Hands, choice: str, marks: list[tuple[int, int]]) -> bool:
    made = hands.instrument
    open_strings = {string for string, fret in marks if fret == 0}
    frets = {fret for _, fret in marks if fret > 0}
    loose = made.loose_notes
    off = [abs(made.cents(string, 12)) for string in made.strings]
    return {
        "rattle_one": len(open_strings) == 1,
        "rattle_all": len(open_strings) > 1,
        "low_frets": bool(frets) and max(frets) <= 5 and len(frets) > 1,
        "high_frets": bool(frets) and max(frets) > 5 and len(frets) > 1,
        "one_fret": len(frets) == 1,
        "out_of_tune": max(off) > 12.0,
        "loose": bool(loose),
    }.get(choice, False)


def _is_so(hands: Hands, name: str, marks: list[tuple[int, int]]) -> bool:
    """Questions with yes and no: is it better than before, is a part loose, does it buzz."""
    boards = [step.marks for step in hands.steps if step.do == "board"]
    if any(word in name for word in ("help", "better", "gone")):
        return len(boards) > 1 and boards[-1] < boards[-2]
    if any(word in name for word in ("finger", "tuner", "loose")):
        return bool(hands.instrument.loose_notes)
    return any(word in name for word in ("buzz", "rattle")) and bool(marks)
