"""What if: try a relief, a height, strings, a tuning or a touch. Nothing is recorded."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from webapp.drawings.bands.before_after import Change, before_after
from webapp.drawings.bands.strip import Value
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import units_for
from webapp.pages.tryout.clearance import read_touch
from webapp.pages.visit.case_loading import Closer, load_closer
from webapp.pages.visit.forms import FormReader
from webapp.pages.visit.visit import Visit, Visiting
from webapp.physics.numbers import Length, say_number
from webapp.setups.case import NARROWEST_MM
from webapp.setups.slots import RELIEF, height_slot, string_label
from webapp.setups.states import Word, said, word_of
from webapp.setups.strings.string_setting import settings_of
from webapp.setups.strings.tension import kgf, sets_for, tunings_for
from webapp.setups.tryout.clearance_map import MEASURED, rests_on, touch_label
from webapp.setups.tryout.what_if import Change as Tried
from webapp.setups.tryout.what_if import StringOutcome, WhatIf, what_if
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
    picture: Drawing

    @property
    def path(self) -> str:
        return f"{self.closer.path}/what-if"

    @property
    def tightest(self) -> Pair:
        """The string with the least in hand after the change."""
        return min(self.pairs, key=lambda pair: pair.after.left_mm)

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
    both = zip(answer.before.strings, answer.after.strings, strict=True)
    pairs = tuple(Pair(string_label(case.spec, b.number), b, a) for b, a in both)
    return WhatIfPage(
        closer=closer,
        form=form,
        touch=touch_label(change.touch or usual),
        usual_key=usual,
        sets=((AS_NOW, "As now"), *((s.key, s.name) for s in sets)),
        tunings=((AS_NOW, "As now"), *((t.key, t.name) for t in tunings)),
        answer=answer,
        pairs=pairs,
        changed=form.ok and answer.before != answer.after,
        stand_ins=_stand_ins(closer),
        picture=before_after(tuple(_changes(visit, closer, answer, pairs))),
    )


def _changes(visit: Visit, closer: Closer, answer: WhatIf, pairs: Sequence[Pair]) -> Iterator[Change]:
    """Relief and heights on their targets, now and then; a string is marked by whether it touches."""
    units, case = units_for(visit.unit.value), closer.case
    bands, after = case.bands(RELIEF), answer.after.relief_mm
    word = word_of(after, bands)
    usual, target = (bands.usual.low, bands.usual.high), (bands.target.low, bands.target.high)
    values = _now_and_then(answer.before.relief_mm, after)
    yield Change("Relief", units, usual, target, *values, word, said(RELIEF.check, word))
    for pair in pairs:
        bands = case.bands(height_slot(pair.before.number))
        low, high = bands.target.low, max(bands.target.high, bands.target.low + NARROWEST_MM)
        usual, target = (min(bands.usual.low, low), max(bands.usual.high, high)), (low, high)
        word, words = (Word.TOO_LOW, "touches") if pair.after.left_mm < 0 else (Word.GOOD, "clean")
        values = _now_and_then(pair.before.action_mm, pair.after.action_mm)
        yield Change(pair.label.replace(" string", ""), units, usual, target, *values, word, words)


def _now_and_then(now_mm: float, then_mm: float) -> tuple[Value, Value | None]:
    """What stays as it is has no second value."""
    return Value(now_mm), None if now_mm == then_mm else Value(then_mm)


def _answer(closer: Closer, form: FormReader, change: Tried) -> WhatIf:
    try:
        return what_if(closer.case, change if form.ok else Tried())
    except ValueError:
        # Only a tuning can take a note off the keyboard; everything else was judged field by field.
        form.fault("tuning", "This tuning cannot be reached from the notes of this instrument.")
        return what_if(closer.case, Tried())


def _read(
    visit: Visit,
    closer: Closer,
    form: FormReader,
    sets: Mapping[str, StringSet],
    tunings: Mapping[str, Tuning],
) -> Tried:
    plausible = visit.trade.ranges.plausible
    relief = _length(visit, form, "relief", plausible.relief)
    bass = _length(visit, form, "bass", plausible.height)
    treble = _length(visit, form, "treble", plausible.height)
    return Tried(
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
