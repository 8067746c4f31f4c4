"""The tables of fields: each stands on its page as the table says, and reads back what it wrote."""

from __future__ import annotations

import re
from html import unescape
from operator import attrgetter

import pytest

from tests.pages.conftest import Player
from webapp.pages.instrument.description_fields import FIELDS, PLAIN_FIELDS, offered
from webapp.pages.instrument.description_reading import form_values
from webapp.pages.lessons.lesson_form import LessonFormPage
from webapp.pages.visit.forms import Field, FormReader
from webapp.physics.numbers import Length
from webapp.setups.lessons.lesson_file import checks_of
from webapp.trade.content import Trade


def stands_on(page: str, field: Field) -> bool:
    """Whether the field is there once, with its label and its hint."""
    labels = re.findall(rf'<label for="field-{field.name}">(.*?)</label>', page)
    if field.sort == "tick" or getattr(field, "open", False):
        labels = [field.label] if f'name="{field.name}"' in page and f">{field.label}<" in page else []
    hint = re.search(rf'id="hint-{field.name}">(.*?)</p>', page)
    said = unescape(hint[1]) if hint else ""
    return [unescape(one) for one in labels] == [field.label] and (said == field.hint or field.sort == "tick")


@pytest.mark.parametrize("kind", ["bass_4_34", "electric_6_posts", "classical_6"])
def test_every_field_of_the_instrument_stands_on_its_form(player: Player, trade: Trade, kind: str) -> None:
    page = player.get(f"{player.make(kind)}/edit").text
    plucked_only = not trade.ranges.families[trade.kinds[kind].family].pickups
    wanted = [f for f in FIELDS.values() if not (plucked_only and f.name.startswith("pickup_"))]
    assert len(wanted) > 20
    assert [f.name for f in wanted if not stands_on(page, f)] == []


def test_every_field_of_a_lesson_stands_on_its_form(player: Player, trade: Trade) -> None:
    page = player.get("/lessons/new?kind=bass_4_34").text
    asked = {f"notes_{check.value}" for check in checks_of(trade.kinds["bass_4_34"])}
    wanted = [f for f in LessonFormPage.fields.values() if f.part != "notes" or f.name in asked]
    assert len(wanted) > 5
    assert [f.name for f in wanted if not stands_on(page, f)] == []


@pytest.mark.parametrize("kind", ["bass_5_35", "bass_4_short", "electric_6_posts", "classical_6"])
def test_every_field_reads_the_part_that_it_was_written_from(trade: Trade, kind: str) -> None:
    spec = trade.kinds[kind].spec
    form = FormReader(form_values(spec))
    told = [field for field in PLAIN_FIELDS.values() if field.part and field.when(form)]
    for field in told:
        value = field.read(form, offered(field, trade, trade.kinds[kind].family))
        value = value.mm if isinstance(value, Length) else value
        kept = attrgetter(field.part)(spec)
        if field.name != "scale_treble":  # empty where both sides are alike
            assert value == (pytest.approx(kept) if isinstance(kept, float) else kept), field.name
    assert form.ok and len(told) > 10
