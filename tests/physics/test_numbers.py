"""A number as the screen, a field and a hand have it."""

from __future__ import annotations

import ast
import math
import re
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import webapp
from webapp.physics.numbers import (
    MM_PER_UNIT,
    PLACES,
    Length,
    LengthError,
    Unit,
    as_typed,
    format_length,
    from_unit,
    on_screen,
    parse_length,
    read_number,
    say_count,
    say_number,
    to_unit,
    write_number,
)

ROOT = Path(webapp.__file__).parent
# The one module; and those whose numbers go into a drawing or a spreadsheet's cells.
WRITES_NUMBERS = ("physics/numbers.py", "setups/csv_text.py", "drawings/")


@pytest.mark.parametrize(
    "value, places, plus, said, written",
    [
        (-0.1, 2, False, "−0.10", "-0.10"),
        (-0.001, 2, False, "0.00", "0.00"),
        (-0.4, 0, True, "0", "0"),
        (4, None, True, "+4", "4"),
        (0.0, None, True, "0", "0"),
        (-2.5, None, True, "−2.5", "-2.5"),
        (440.0, None, False, "440", "440"),
    ],
)
def test_the_screen_has_its_own_minus(
    value: float, places: int | None, plus: bool, said: str, written: str
) -> None:
    assert say_number(value, places, plus) == said
    assert write_number(value, places) == written


@pytest.mark.parametrize(
    "text, value",
    [
        ("-3", -3), ("−3", -3), ("–3,5", -3.5), ("+ 4", 4), (" .5 ", 0.5), ("5.", 5), ("440 Hz", 440),
        ("-2 CENTS", -2), ("-0", 0), ("", None), ("-", None), (".", None), ("1e3", None), ("nan", None),
        ("٣", None), ("1 2", None), ("3 mm", None), ("--3", None), ("1234567", None), ("hz", None),
    ],
)  # fmt: skip
def test_what_a_hand_types_is_read(text: str, value: float | None) -> None:
    found = read_number(text, "cents", "hz")
    assert found == value and (found is None or math.copysign(1, found) == (-1 if found < 0 else 1))


@given(st.integers(-99_999_999, 99_999_999), st.integers(0, 4))
def test_what_is_said_can_be_typed_back(number: int, places: int) -> None:
    value = number / 1000
    assert read_number(say_number(value, places)) == pytest.approx(round(value, places), abs=10.0**-places)
    assert read_number(write_number(value, places)) == read_number(say_number(value, places, plus=True))


def test_only_a_sign_before_a_figure_is_a_minus() -> None:
    assert on_screen("-2/64 in, 12-string, 1-13-7, -.5") == "−2/64 in, 12-string, 1-13-7, −.5"
    assert as_typed("−2 – 3") == "-2 - 3"
    assert say_count(12345) == "12,345"


def formats_a_float(node: ast.AST) -> bool:
    """`{x:.2f}`, `{x:g}`, `{x:,}`, and `"%.2f" % x`."""
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Mod) and isinstance(node.left, ast.Constant):
        return isinstance(node.left.value, str)
    if not isinstance(node, ast.FormattedValue) or not isinstance(node.format_spec, ast.JoinedStr):
        return False
    spec = "".join(part.value if isinstance(part, ast.Constant) else "{}" for part in node.format_spec.values)
    return bool(re.search(r"[.,_+]|[efgn%]$", spec, re.IGNORECASE))


def test_one_module_turns_numbers_into_text() -> None:
    found, allowed = [], 0
    for part in ("physics", "setups", "pages", "drawings"):
        for module in sorted((ROOT / part).rglob("*.py")):
            name = module.relative_to(ROOT).as_posix()
            nodes = ast.walk(ast.parse(module.read_text(encoding="utf-8")))
            lines = [node.lineno for node in nodes if formats_a_float(node)]
            if name.startswith(WRITES_NUMBERS):
                allowed += len(lines)
            else:
                found += [f"{name}:{line}" for line in lines]
    assert found == []
    assert allowed > 5


def test_templates_leave_numbers_to_the_page() -> None:
    """But for the coordinates of a drawing."""
    templates = ROOT.parent / "templates"
    mine = {
        f.relative_to(templates).as_posix()
        for f in templates.rglob("*.html")
        if re.search(r"\|\s*(format|float)\b|\.format\(|\"%\.?\d*[a-z]\"", f.read_text(encoding="utf-8"))
    }
    assert mine == {"parts/visit/drawing.html"}


calm = settings(deadline=None)
ANY = (-2000.0, 2000.0)


@pytest.mark.parametrize(
    ("typed", "mm", "unit"),
    [
        ("2.4", 2.4, Unit.mm),
        ("2,4", 2.4, Unit.mm),
        (" 2.4 mm ", 2.4, Unit.mm),
        ("2.4MM", 2.4, Unit.mm),
        (".5", 0.5, Unit.mm),
        ("3.", 3.0, Unit.mm),
        ("+0.3", 0.3, Unit.mm),
        ("-0.1", -0.1, Unit.mm),
        ("\u22120.1", -0.1, Unit.mm),
        ("\u20130,1 mm", -0.1, Unit.mm),
        ("0.3 cm", 3.0, Unit.mm),
        ("3/32", 2.38125, Unit.inch),
        ("3/32 in", 2.38125, Unit.inch),
        ("3 / 32 inches", 2.38125, Unit.inch),
        ('6/64"', 2.38125, Unit.sixty_fourths),
        ("6/64\u2033", 2.38125, Unit.sixty_fourths),
        ("6/64\u201d", 2.38125, Unit.sixty_fourths),
        ("6/64\u2019\u2019", 2.38125, Unit.sixty_fourths),
        ("6 64ths", 2.38125, Unit.sixty_fourths),
        ("6/64ths", 2.38125, Unit.sixty_fourths),
        ("4.5/64 in", 1.7859375, Unit.sixty_fourths),
        ("-1/64", -0.396875, Unit.sixty_fourths),
        ('0.012"', 0.3048, Unit.inch),
        ("0.012 inch", 0.3048, Unit.inch),
        ("12 thou", 0.3048, Unit.thou),
        ("1 3/32", 27.78125, Unit.inch),
        ("1-3/32 in", 27.78125, Unit.inch),
        ("-1 1/2", -38.1, Unit.inch),
        ("\u00bd in", 12.7, Unit.inch),
        ("2\u00bd\u2033", 63.5, Unit.inch),
        ("34 in", 863.6, Unit.inch),
    ],
)
def test_what_a_player_may_type(typed: str, mm: float, unit: Unit) -> None:
    read = parse_length(typed, Unit.mm, *ANY)
    assert read.mm == pytest.approx(mm, abs=1e-9)
    assert read.unit is unit
    assert read.typed == typed


@pytest.mark.parametrize(
    ("unit", "mm"), [(Unit.mm, 3.0), (Unit.inch, 76.2), (Unit.thou, 0.0762), (Unit.sixty_fourths, 1.190625)]
)
def test_a_bare_number_is_in_the_players_unit(unit: Unit, mm: float) -> None:
    read = parse_length("3", unit, *ANY)
    assert read.mm == pytest.approx(mm)
    assert read.unit is unit


@pytest.mark.parametrize(
    "typed",
    ["", "   ", "abc", "two", "2.4.5", "1e9", "1 2", "--1", "3/", "/3", "3/0", "5 ft", "mm", "nan", "inf",
     "1,234.5", "9" * 60, "2.4 mm mm", "\u0663", "1/2/3", "12 thou in"],
)  # fmt: skip
def test_what_is_no_length_gets_a_sentence_that_says_what_would_be(typed: str) -> None:
    with pytest.raises(LengthError) as caught:
        parse_length(typed, Unit.mm, 0.3, 8.0)
    assert "from 0.30 mm to 8.00 mm" in caught.value.sentence
    assert caught.value.sentence.endswith(".")
    assert caught.value.suggestions == ()


@pytest.mark.parametrize("typed", ["1000000000", "-5", "9 mm", "2 in", "400 thou", "3/4", "0.1", "9" * 30])
def test_out_of_range_says_the_range(typed: str) -> None:
    with pytest.raises(LengthError, match="outside what this can be.*from 0.30 mm to 8.00 mm"):
        parse_length(typed, Unit.mm, 0.3, 8.0)


def test_a_bare_number_that_fits_another_unit_asks() -> None:
    with pytest.raises(LengthError) as caught:
        parse_length("12", Unit.mm, -1.0, 2.0)
    assert "Did you mean 12 thou (0.30 mm)?" in caught.value.sentence
    (meant,) = caught.value.suggestions
    assert meant.mm == pytest.approx(0.3048)
    assert meant.unit is Unit.thou


def test_a_scale_in_inches_asks_and_so_do_millimetres_typed_for_inches() -> None:
    with pytest.raises(LengthError, match=r"Did you mean 34 in \(863.60 mm\)\?"):
        parse_length("34", Unit.mm, 300, 1200)
    with pytest.raises(LengthError, match=r"Did you mean 648 mm \(25.512 in\)\?"):
        parse_length("648", Unit.inch, 300, 1200)


@calm
@given(value=st.floats(0.001, 3000), unit=st.sampled_from(Unit))
def test_every_suggestion_reads_back_as_itself_within_range(value: float, unit: Unit) -> None:
    try:
        parse_length(f"{value:.3f}", unit, 0.3, 8.0)
    except LengthError as error:
        for meant in error.suggestions:
            read = parse_length(meant.typed, unit, 0.3, 8.0)
            assert read.mm == pytest.approx(meant.mm, rel=1e-4)
            assert read.unit is meant.unit


@calm
@given(
    low=st.floats(-5, 5), width=st.floats(0.5, 50), unit=st.sampled_from(Unit), end=st.sampled_from([0, 1])
)
@example(low=9e-8, width=1.0, unit=Unit.sixty_fourths, end=0)
def test_the_limits_that_a_sentence_names_are_accepted(
    low: float, width: float, unit: Unit, end: int
) -> None:
    with pytest.raises(LengthError) as caught:
        parse_length("", unit, low, low + width)
    named = caught.value.sentence.removesuffix(".").split(" from ")[1].split(" to ")[end]
    parse_length(named, unit, low, low + width)


@calm
@given(mm=st.floats(-1999, 1999), unit=st.sampled_from(Unit))
@example(mm=-0.001, unit=Unit.mm)
@example(mm=-0.001, unit=Unit.sixty_fourths)
def test_what_is_written_reads_back_within_its_rounding(mm: float, unit: Unit) -> None:
    step = 0.5 if unit is Unit.sixty_fourths else 10.0 ** -PLACES[unit]
    shown = format_length(mm, unit)
    read = parse_length(shown, Unit.mm, *ANY)
    # up to half a step, and the few digits that a number as long as a scale has beyond it
    assert abs(read.mm - mm) <= from_unit(step, unit) / 2 * (1 + 1e-6) + 1e-9
    assert read.unit is unit
    assert format_length(read.mm, unit) == shown


@calm
@given(
    mm=st.floats(-1999, 1999), unit=st.sampled_from([Unit.mm, Unit.inch, Unit.thou]), places=st.integers(0, 6)
)
def test_any_number_of_places_reads_back(mm: float, unit: Unit, places: int) -> None:
    read = parse_length(format_length(mm, unit, places), unit, -2100.0, 2100.0)
    assert abs(read.mm - mm) <= from_unit(10.0**-places, unit) / 2 * (1 + 1e-6) + 1e-9


@calm
@given(value=st.floats(-1000, 1000), unit=st.sampled_from(Unit))
def test_units_convert_there_and_back(value: float, unit: Unit) -> None:
    assert to_unit(from_unit(value, unit), unit) == pytest.approx(value, rel=1e-12)


def test_how_lengths_look() -> None:
    shown = [format_length(2.38125, unit) for unit in Unit]
    assert shown == ["2.38 mm", "0.094 in", "94 thou", "6/64 in"]
    assert format_length(1.78, Unit.sixty_fourths) == "4.5/64 in"
    assert format_length(1.78, Unit.sixty_fourths, places=0) == "4/64 in"
    assert format_length(-0.001, Unit.mm) == "0.00 mm"
    assert format_length(-0.1, Unit.mm, places=1) == "−0.1 mm"
    assert set(MM_PER_UNIT) == set(Unit)


def test_a_length_cannot_change() -> None:
    with pytest.raises(AttributeError):
        Length(1.0, Unit.mm, "1").mm = 2.0  # type: ignore[misc]
