"""A number as the screen, a field and a hand have it."""

from __future__ import annotations

import ast
import math
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import webapp
from webapp.physics.numbers import as_typed, on_screen, read_number, say_count, say_number, write_number

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
