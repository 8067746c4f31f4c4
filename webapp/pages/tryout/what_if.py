"""What if: try a relief, a height, strings, a tuning or a touch. Nothing is recorded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from webapp.pages.tryout.clearance import read_touch
from webapp.pages.visit.case_loading import Closer, load_closer
from webapp.pages.visit.forms import FormReader
from webapp.pages.visit.visit import Visit, Visiting
from webapp.physics.numbers import Length, say_number
from webapp.setups.slots import string_label
from webapp.setups.strings.string_setting import settings_of
from webapp.setups.strings.tension import kgf, sets_for, tunings_for
from webapp.setups.tryout.clearance_map import MEASURED, rests_on, touch_label
from webapp.setups.tryout.what_if import Change, StringOutcome, WhatIf, what_if
from webapp.trade.ranges import Band
from webapp.trade.string_sets import StringSet, Tuning

router = APIRouter()

AS_NOW = "now"
Options = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Pair:
    """One string before and after."""

    label: str
    before: StringOutcome
    after: StringOutcome


@dataclass(frozen=True)
class WhatIfPage:
    """Everything the page shows."""

    closer: Closer
    form: FormReader
    touch: str
    usual_key: str
    sets: Options
    tunings: Options
    answer: WhatIf
    pairs: tuple[Pair, ...]
    changed: bool
    stand_ins: tuple[str, ...]

    @property
    def path(self) -> str:
        return f"{self.closer.path}/what-if"

    @property
    def usual(self) -> str:
        return touch_label(self.usual_key)

    @staticmethod
    def newtons(load_n: float) -> str:
        return f"{say_number(load_n, 0)} N"

    @staticmethod
    def kilograms(load_n: float) -> str:
        return f"{say_number(kgf(load_n), 0)} kgf"

    def value(self, name: str) -> str:
        return self.form.raw(f"{name}_take") or self.form.raw(name)

    def unit(self, name: str, default: str) -> str:
        return self.form.raw(f"{name}_unit", default)


@router.get("/instruments/{instrument_id}/what-if")
def show(instrument_id: str, request: Request, visit: Visiting) -> Response:
    closer = load_closer(visit, instrument_id)
    form = FormReader(dict(request.query_params))
    page = build(visit, closer, form)
    return visit.render("pages/tryout/what_if.html", page, form.status)


def build(visit: Visit, closer: Closer, form: FormReader) -> WhatIfPage:
    """The page's context; with a mistake in the form nothing is changed."""
    case = closer.case
    sets, tunings = sets_for(case.spec, visit.trade), tunings_for(case.spec, visit.trade)
    change = _read(visit, closer, form, {s.key: s for s in sets}, {t.key: t for t in tunings})
    answer = _answer(closer, form, change)
    usual = read_touch(closer, FormReader({}))
    pairs = zip(answer.before.strings, answer.after.strings, strict=True)
    return WhatIfPage(
        closer=closer,
        form=form,
        touch=touch_label(change.touch or usual),
        usual_key=usual,
        sets=((AS_NOW, "As now"), *((s.key, s.name) for s in sets)),
        tunings=((AS_NOW, "As now"), *((t.key, t.name) for t in tunings)),
        answer=answer,
        pairs=tuple(Pair(string_label(case.spec, b.number), b, a) for b, a in pairs),
        changed=form.ok and answer.before != answer.after,
        stand_ins=_stand_ins(closer),
    )


def _answer(closer: Closer, form: FormReader, change: Change) -> WhatIf:
    try:
        return what_if(closer.case, change if form.ok else Change())
    except ValueError:
        # Only a tuning can take a note off the keyboard; everything else was judged field by field.
        form.fault("tuning", "This tuning cannot be reached from the notes of this instrument.")
        return what_if(closer.case, Change())


def _read(
    visit: Visit,
    closer: Closer,
    form: FormReader,
    sets: Mapping[str, StringSet],
    tunings: Mapping[str, Tuning],
) -> Change:
    plausible = visit.trade.ranges.plausible
    relief = _length(visit, form, "relief", plausible.relief)
    bass = _length(visit, form, "bass", plausible.height)
    treble = _length(visit, form, "treble", plausible.height)
    return Change(
        relief_mm=relief.mm if relief else None,
        bass_mm=bass.mm if bass else None,
        treble_mm=treble.mm if treble else None,
        touch=read_touch(closer, form),
        string_set=sets.get(_chosen(form, "strings", sets, "one of the sets")),
        tuning=tunings.get(_chosen(form, "tuning", tunings, "one of the tunings")),
    )


def _length(visit: Visit, form: FormReader, name: str, plausible: Band) -> Length | None:
    """A length, or None where the field was left empty."""
    if not (form.raw(f"{name}_take") or form.raw(name)).strip():
        return None
    return form.length(name, visit.unit, plausible)


def _chosen(form: FormReader, name: str, known: Mapping[str, object], what: str) -> str:
    if form.raw(name, AS_NOW) in ("", AS_NOW):
        return AS_NOW
    return form.choice(name, known, what) or AS_NOW


def _stand_ins(closer: Closer) -> tuple[str, ...]:
    """Which readings the sums had to do without."""
    case = closer.case
    found = [rest for setting in settings_of(case) for rest in rests_on(case, setting)]
    return tuple(dict.fromkeys(f"{r.name.lower()} {r.source}" for r in found if r.source != MEASURED))
