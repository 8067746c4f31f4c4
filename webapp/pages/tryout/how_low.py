"""How low can it go: the lowest clean heights for a touch, and the turns that lead there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.bands.before_after import Change, before_after
from webapp.drawings.bands.strip import Value
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import units_for
from webapp.pages.tryout.clearance import read_touch
from webapp.pages.visit.case_loading import Closer, load_closer
from webapp.pages.visit.forms import FormReader
from webapp.pages.visit.visit import Visit, Visiting
from webapp.setups.case import NARROWEST_MM
from webapp.setups.slots import RELIEF, height_slot, string_label
from webapp.setups.states import Forecast, Word
from webapp.setups.tryout.clearance_map import MEASURED, rests_on, touch_label
from webapp.setups.tryout.how_low import LowPlan, how_low
from webapp.trade.ranges import Band
from webapp.trade.words import BridgeType

router = APIRouter()

# No ruler shows less, mm.
TOLD_MM = 0.05


@dataclass(frozen=True)
class LowPage:
    """Everything the page shows."""

    closer: Closer
    form: FormReader
    plan: LowPlan
    labels: tuple[str, ...]
    stand_ins: tuple[str, ...]
    cautions: tuple[str, ...]
    answer: str
    picture: Drawing

    @property
    def path(self) -> str:
        return f"{self.closer.path}/low"

    @property
    def touch(self) -> str:
        return touch_label(self.plan.touch)

    @property
    def margin_mm(self) -> float:
        return self.closer.case.trade.swing.margin_mm

    @property
    def way(self) -> str:
        return self.closer.case.relief_standard.text

    @property
    def on_posts(self) -> bool:
        return self.closer.case.spec.bridge.type in (BridgeType.TWO_POST, BridgeType.FLOATING)

    @property
    def has_saddles(self) -> bool:
        return self.closer.case.spec.bridge.type is BridgeType.INDIVIDUAL

    @property
    def floating(self) -> bool:
        return self.closer.case.spec.bridge.type is BridgeType.FLOATING


@router.get("/instruments/{instrument_id}/low")
def show(instrument_id: str, visit: Visiting, touch: str = "") -> Response:
    closer = load_closer(visit, instrument_id)
    form = FormReader({"touch": touch})
    page = build(visit, closer, form)
    return visit.render("pages/tryout/how_low.html", page, form.status)


def build(visit: Visit, closer: Closer, form: FormReader) -> LowPage:
    """The page's context."""
    case = closer.case
    plan = how_low(case, read_touch(closer, form))
    places = ("relief", "height") if plan.steps else ()
    cautions = [c.text for place in places for c in visit.trade.cautions_for(case.spec, place)]
    return LowPage(
        closer=closer,
        form=form,
        plan=plan,
        labels=tuple(_letter(closer, low.number) for low in plan.strings),
        stand_ins=_stand_ins(closer, plan),
        cautions=tuple(dict.fromkeys(cautions)),
        answer=_answer(visit, plan),
        picture=before_after(tuple(_changes(visit, closer, plan))),
    )


def _letter(closer: Closer, number: int) -> str:
    return string_label(closer.case.spec, number).replace(" string", "")


def _answer(visit: Visit, plan: LowPlan) -> str:
    """How far the strings are from as low as they go."""
    lower = [low.setting.action_mm - low.aim_mm for low in plan.strings]
    if not plan.steps and not plan.repairer:
        return "It is as low as it goes"
    if max(lower) > TOLD_MM:
        return f"It can go up to {visit.say.length(max(lower))} lower"
    if min(lower) < -TOLD_MM:
        return f"It is up to {visit.say.length(-min(lower))} too low for that"
    return "It is nearly as low as it goes"


def _changes(visit: Visit, closer: Closer, plan: LowPlan) -> Iterator[Change]:
    """Relief and heights as they are and after the plan, each on its target for this touch."""
    case, units = closer.case, units_for(visit.unit.value)
    bands, expected = case.bands(RELIEF), (Word.EXPECTED.value, Word.EXPECTED.value)
    values = _now_and_then(plan.now.relief, plan.end.relief)
    yield Change("Relief", units, _pair(bands.usual), _pair(bands.target), *values, *expected)
    for low, now, end in zip(plan.strings, plan.now.heights, plan.end.heights, strict=True):
        bands = case.bands(height_slot(low.number))
        target = (low.aim_mm, low.aim_mm + max(bands.target.width, NARROWEST_MM))
        usual = (min(bands.usual.low, target[0]), max(bands.usual.high, target[1]))
        name, values = _letter(closer, low.number), _now_and_then(now, end)
        yield Change(name, units, usual, target, *values, *expected)


def _now_and_then(now: Forecast, end: Forecast) -> tuple[Value, Value | None]:
    """What stays as it is has no second value."""
    then = None if now.value == end.value else Value(end.value, end.give)
    return Value(now.value, now.give), then


def _pair(band: Band) -> tuple[float, float]:
    return band.low, band.high


def _stand_ins(closer: Closer, plan: LowPlan) -> tuple[str, ...]:
    """What the plan rests on that is not a good reading: 'relief (not measured: ...)'."""
    case = closer.case
    found: dict[str, None] = {}
    for low in plan.strings:
        relief, height, *_ = rests_on(case, low.setting)
        if relief.source != MEASURED:
            found[f"relief ({relief.source})"] = None
        if height.source != MEASURED:
            found[f"{string_label(case.spec, low.number)} ({height.source})"] = None
    return tuple(found)
