"""How one instrument stands, in the words of its line on the bench: judged anew from all its journals."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from webapp.drawings.marks import REPAIRER
from webapp.pages.history.season import daily_air, dues
from webapp.pages.instrument.bench import Said, Stands
from webapp.pages.instrument.instrument import InstrumentStanding, due_words, look_again, standing
from webapp.pages.instrument.places import UNMARKED, place_marks
from webapp.pages.visit.addresses import instrument_path
from webapp.pages.visit.answering import next_words
from webapp.pages.visit.case_loading import LoadedSetup, load_all, standing_assessment, standing_case
from webapp.pages.visit.visit import Visit
from webapp.setups.case import Case
from webapp.setups.description import in_short
from webapp.setups.say import capital
from webapp.setups.seasons.due import Due
from webapp.setups.states import Act, Assessment, Step, Word
from webapp.trade.words import label

DONE = (Word.GOOD, Word.EXPECTED, Word.NOT_HERE, Word.NOT_TAUGHT)
# What time alone does to an instrument is slow, and the slower the longer nobody touched it: its line is good
# for this part of the time since then.
AGES = 20
SHORTEST, LONGEST = timedelta(minutes=1), timedelta(days=7)


def stands_now(visit: Visit, instrument_id: str) -> Stands:
    """The instrument's line as of now, with how long it is good where nothing is written meanwhile."""
    instrument, passes = load_all(visit, instrument_id)
    case = standing_case(visit, instrument, passes)
    stands = standing_assessment(visit, instrument, passes, case)
    how = standing(passes, stands, visit.now)
    found = dues(visit, instrument, passes, case, daily_air(visit))
    due_now = next((one for one in found if one.is_due(visit.now)), None)
    # The settling rod has a line of its own, which says the hour.
    due = next((one for one in found if not (how.read_relief and one.key == "settled")), None)
    setup = next((one for one in passes if not one.quick), None)
    at = setup.assessment.next.check if setup is not None and how.under_way else None
    action, href, starts = _action(how, due_now, setup is None, instrument_path(instrument.id))
    return Stands(
        in_short=in_short(instrument.spec),
        marks=place_marks(instrument.spec, stands, at),
        says=tuple(_says(visit, setup, how, stands, due)),
        action=action,
        action_href=href,
        starts=starts,
        waits=due_now is not None or how.under_way,
        dues=found,
        judged_at=visit.now,
        good_until=_good_until(visit.now, case, [one.when for one in found], stands.read_relief_at),
    )


def _good_until(
    now: datetime, case: Case, dues_at: Sequence[datetime], read_relief_at: datetime | None
) -> datetime:
    """Until something falls due, or time may have changed what is believed."""
    entries = case.journal.entries
    age = now - entries[-1].at if entries else LONGEST * AGES
    moments = [now + min(LONGEST, max(SHORTEST, age / AGES)), *dues_at]
    if read_relief_at is not None:
        moments.append(read_relief_at)
    return min(at for at in moments if at > now)


def _action(how: InstrumentStanding, due: Due | None, never: bool, home: str) -> tuple[str, str, bool]:
    """What the button says, where it leads, and whether it starts a setup."""
    if how.under_way:
        return "Continue", how.next_href, False
    if never or (due is not None and due.sets_up):
        return "Put this right" if due is not None and due.off else "Start a setup", f"{home}/setups", True
    if due is not None and due.key != "strings":
        return f"Read {label(due.check)}", f"{home}/quick", False
    return "Quick check", f"{home}/quick", False


def _says(
    visit: Visit, setup: LoadedSetup | None, how: InstrumentStanding, stands: Assessment, due: Due | None
) -> Iterator[Said]:
    """What is due or off, what is left for a repairer, and else that all is well; each in a few words."""
    is_due = due is not None and due.is_due(visit.now)
    if how.read_relief:
        yield Said(Word.EXPECTED, f"{how.read_relief}.")
    elif due is not None and is_due:
        yield Said(Word.TOUCH_HIGH, f"{due_words(due)}.")
    if how.repairer:
        yield Said(REPAIRER, f"{len(how.repairer)} for a repairer.")
    if setup is not None and how.under_way:
        done = setup.assessment.done_count
        begun = f"{done} of {sum(1 for c in setup.assessment.checks.values() if c.here)} checks done."
        yield Said(Word.NOT_MEASURED, begun if done else "Setup begun.", _next(setup.assessment.next))
    elif setup is None:
        yield Said(Word.NOT_MEASURED, f"{how.sentence}.")
    elif not is_due:
        yield from _well(stands, look_again(due, visit.now) if due else "")


def _well(stands: Assessment, later: str) -> Iterator[Said]:
    handed = {item.check for item in stands.repairer}
    off = [
        (state.word, f"{capital(label(check))}: {state.said}.")
        for check, state in stands.checks.items()
        if state.here and state.word not in UNMARKED and check not in handed
    ]
    if off:
        more = f"And {len(off) - 1} more." if len(off) > 1 else ""
        yield Said(*off[0], then=f"{more} {later}".strip())
    elif all(state.word in DONE for check, state in stands.checks.items() if check not in handed):
        yield Said(Word.GOOD, "All good.", later)
    elif later:
        yield Said("", "", later)


def _next(step: Step) -> str:
    words = next_words(step).removeprefix("Continue: ")
    return f"Next: {words}." if step.act is not Act.STOP else f"{words}."
