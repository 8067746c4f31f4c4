"""How low can it go: the lowest clean heights for a touch, and the turns that lead there."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.tryout.clearance import read_touch
from webapp.pages.visit.case_loading import Closer, load_closer
from webapp.pages.visit.forms import FormReader
from webapp.pages.visit.visit import Visit, Visiting
from webapp.setups.slots import string_label
from webapp.setups.tryout.clearance_map import MEASURED, rests_on, touch_label
from webapp.setups.tryout.how_low import LowPlan, how_low
from webapp.trade.words import BridgeType

router = APIRouter()


@dataclass(frozen=True)
class LowPage:
    """Everything the page shows."""

    closer: Closer
    form: FormReader
    plan: LowPlan
    labels: tuple[str, ...]
    stand_ins: tuple[str, ...]
    cautions: tuple[str, ...]

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
        labels=tuple(string_label(case.spec, low.number).replace(" string", "") for low in plan.strings),
        stand_ins=_stand_ins(closer, plan),
        cautions=tuple(dict.fromkeys(cautions)),
    )


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
