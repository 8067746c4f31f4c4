"""Deciding about one reading: turn something, or keep it so; and logging any other turn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends
from fastapi.responses import Response

from webapp.pages.common import Visit, see, visit
from webapp.pages.flash import value_words
from webapp.pages.forms import FormReader, form_id_of, read_form
from webapp.pages.loading import LoadedSetup, load_setup
from webapp.pages.onward import onward
from webapp.pages.places import adjust_path, read_path
from webapp.pages.reading_help import progress
from webapp.pages.readings import find_slot
from webapp.pages.recording import Refused, record, seen_of
from webapp.pages.turning import AMOUNTS, Ways, turn_entry, ways_to_turn
from webapp.setups.checks.common import KEPT
from webapp.setups.howto import heading
from webapp.setups.slots import Slot
from webapp.setups.states import SlotState
from webapp.store.entries import NewEntry
from webapp.trade.words import BridgeType, Check

router = APIRouter()


@dataclass(frozen=True)
class AdjustPage:
    """Everything the deciding page shows."""

    setup: LoadedSetup
    state: SlotState
    heading: str
    kicker: str
    value: str
    standard: str
    target: str
    usual: str
    forecast: tuple[str, str]
    cautions: tuple[str, ...]
    ways: Ways | None
    amounts: tuple[tuple[str, str], ...]
    can_run_out: bool
    form: FormReader
    form_id: str
    seen: int

    @property
    def action(self) -> str:
        return adjust_path(self.setup.id, self.state.slot.key)

    @property
    def read_path(self) -> str:
        return read_path(self.setup.id, self.state.slot.key)


@router.get("/setups/{setup_id}/adjust/{slot_key}")
def show(setup_id: str, slot_key: str, visit: Annotated[Visit, Depends(visit)]) -> Response:
    setup = load_setup(visit, setup_id)
    slot = find_slot(setup, slot_key)
    if not setup.assessment.slot(slot.key).measured:
        return see(read_path(setup_id, slot.key))
    return visit.render("pages/adjust.html", build(visit, setup, slot, FormReader({})))


@router.post("/setups/{setup_id}/adjust/{slot_key}")
def send(
    setup_id: str,
    slot_key: str,
    visit: Annotated[Visit, Depends(visit)],
    form: Annotated[FormReader, Depends(read_form)],
) -> Response:
    setup = load_setup(visit, setup_id)
    slot = find_slot(setup, slot_key)
    entry = _read(setup, slot, form)
    if entry is None:
        return visit.render("pages/adjust.html", build(visit, setup, slot, form), 422)
    done = record(visit, setup, form, slot.key, [entry])
    if isinstance(done, Refused):
        form.fault("action", done.sentence)
        return visit.render("pages/adjust.html", build(visit, load_setup(visit, setup_id), slot, form), 409)
    return see(onward(done))


def _read(setup: LoadedSetup, slot: Slot, form: FormReader) -> NewEntry | None:
    """The decision as one journal entry, or None with the sentences beside the fields."""
    state = setup.assessment.slot(slot.key)
    action = form.choice("action", ("turn", "keep", "no_room"), "what you did")
    if action == "keep":
        return NewEntry("observation", slot.check.value, slot.key, detail={"answer": KEPT})
    if action == "no_room" and slot.string is not None:
        return NewEntry(
            "observation", slot.check.value, f"saddle.{slot.string}", detail={"answer": "no_room"}
        )
    if action == "turn" and state.advice is not None and state.advice.turn is not None:
        return turn_entry(setup.case.say, slot, state, form)
    if action:
        form.fault("action", "There is nothing to turn here at the moment. Look at the newest reading first.")
    return None


def build(visit: Visit, setup: LoadedSetup, slot: Slot, form: FormReader) -> AdjustPage:
    """The page's context."""
    state = setup.assessment.slot(slot.key)
    advice, bands, say = state.advice, state.bands, setup.case.say
    cents = slot.check is Check.INTONATION
    fixed = setup.spec.bridge.type is BridgeType.ONE_PIECE
    return AdjustPage(
        setup=setup,
        state=state,
        heading=heading(setup.case, slot),
        kicker=progress(setup, slot),
        value=value_words(setup, state),
        standard=_standard(setup, state),
        target=_band(setup, bands.target.low, bands.target.high, cents),
        usual=_band(setup, bands.usual.low, bands.usual.high, cents),
        forecast=_forecast(setup, state),
        cautions=tuple(c.text for c in visit.trade.cautions_beside(slot.check.value)),
        ways=ways_to_turn(advice.turn) if advice and advice.turn else None,
        amounts=tuple((str(n), say.turns(n)) for n in AMOUNTS),
        can_run_out=cents and not fixed,
        form=form,
        form_id=form_id_of(form),
        seen=seen_of(setup.journal, slot.key),
    )


def _band(setup: LoadedSetup, low: float, high: float, cents: bool) -> str:
    return f"{low:+g} to {high:+g} cents" if cents else setup.case.say.band(low, high)


def _standard(setup: LoadedSetup, state: SlotState) -> str:
    """The reading said the way the bands are, where it was taken another way."""
    if state.reading is None or state.standard is None or state.reading.value is None:
        return ""
    if abs(state.standard - state.reading.value) < 1e-9:
        return ""
    say = setup.case.say
    if state.slot.check is Check.RELIEF:
        return f"{say.length(state.standard)} {setup.case.relief_standard.text}"
    return f"{say.length(state.standard)} at fret 12, held at 1"


def _forecast(setup: LoadedSetup, state: SlotState) -> tuple[str, str]:
    """What the next reading should show, and how sure that is."""
    forecast = state.advice.forecast if state.advice else None
    if forecast is None:
        return "", ""
    say = setup.case.say
    if state.slot.check is Check.INTONATION:
        return say.cents(forecast.value), f"give or take {forecast.spread:.0f}"
    return say.length(forecast.value), f"give or take {say.length(forecast.spread)}"
