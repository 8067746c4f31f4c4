"""What a form is answered with: kept once, or shown again with everything typed."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi.responses import Response

import webapp.pages
from tests.pages.conftest import Form, Player, plain
from webapp.pages.visit.answering import STALE, TWICE, NotKept, answer
from webapp.pages.visit.forms import FormReader
from webapp.pages.visit.visit import see
from webapp.store.errors import AlreadyRecorded, Stale

PAGES = Path(webapp.pages.__file__).parent


def answered(form: FormReader, found: str | None, keep: Callable[[str], Response]) -> Response:
    return answer(
        form, found, keep, lambda status: Response(status_code=status), lambda made: f"/made/{made}"
    )


def test_what_was_read_is_kept_and_leads_on() -> None:
    form, kept = FormReader({}), []
    done = answered(form, "text", lambda found: see(f"/{kept.append(found) or found}"))
    assert (done.status_code, done.headers["location"], kept) == (303, "/text", ["text"])
    assert not form.told_newest


@pytest.mark.parametrize("found", ["text", None])
def test_a_form_with_a_fault_keeps_nothing(found: str | None) -> None:
    form = FormReader({"version": "2"})
    form.fault("name", "Give it a name.")

    def keep(_: str) -> Response:
        raise AssertionError

    assert answered(form, found, keep).status_code == 422
    assert form.show_with("version", 7) == 2


@pytest.mark.parametrize(
    "refusal, told, field, href, status",
    [
        (Stale(), STALE, "", "", 409),
        (AlreadyRecorded("abc"), TWICE, "", "/made/abc", 409),
        (NotKept("Full."), "Full.", "", "", 409),
        (NotKept("No such code.", "code", 422), "No such code.", "code", "", 422),
    ],
)
def test_why_nothing_was_kept_is_said_and_the_newest_is_known(
    refusal: Exception, told: str, field: str, href: str, status: int
) -> None:
    form = FormReader({"version": "2"})

    def keep(_: str) -> Response:
        raise refusal

    assert answered(form, "text", keep).status_code == status
    assert [(e.message, e.field, e.href) for e in form.errors] == [(told, field, href)]
    assert form.show_with("version", 7) == 7


@pytest.mark.parametrize(
    "text, number", [("12", 12), ("", 0), ("-1", 0), ("٣", 0), ("9" * 20, 0), ("1.5", 0)]
)
def test_what_a_form_carries_is_a_count_or_nothing(text: str, number: int) -> None:
    assert FormReader({"seen": text}).shown_with("seen") == number


def test_a_form_that_never_was_shown_carries_the_newest() -> None:
    assert FormReader({}).show_with("seen", 5) == 5


def test_a_mistyped_reading_does_not_hide_what_was_recorded_meanwhile(player: Player) -> None:
    path = f"{player.begin(player.make('bass_4_34'))}/read/relief"
    late = player.form(path)
    player.fill(path, value="0.9")
    refused = player.post(path, {**late, "value": "much"}, 422)
    again = {**Form(refused.text, path).fields, "value": "0.3"}
    told = player.post(path, again, 409)
    assert "Meanwhile 0.90 mm was recorded here" in plain(told.text)
    player.post(path, {**Form(told.text, path).fields, "value": "0.3"})


@pytest.mark.parametrize("page, field, odd", [("edit", "frets", "no"), ("touch", "clean", "no")])
def test_a_mistyped_form_does_not_hide_another_version(
    player: Player, page: str, field: str, odd: str
) -> None:
    bass = player.make("bass_4_34")
    path = f"{bass}/{page}"
    late = {**player.form(path), "action": "heights", "string": "4"}
    player.fill(f"{bass}/edit", name="Newer")
    refused = Form(player.post(path, {**late, field: odd}, 422).text, path).fields
    assert refused["version"] == late["version"]
    assert refused[field] == odd


def test_only_one_module_answers_forms() -> None:
    """No other page knows the statuses of a form that was sent, or the sentence of one that came too late."""
    found = []
    for module in sorted(PAGES.rglob("*.py")):
        tree = ast.parse(module.read_text(encoding="utf-8"))
        for posts in (node for node in tree.body if isinstance(node, ast.FunctionDef) and is_form(node)):
            calls = {ast.unparse(node.func) for node in ast.walk(posts) if isinstance(node, ast.Call)}
            if not calls & {"answer", "send", "see", "_share"}:
                found.append(f"{module.name}: {posts.name}")
        texts = [n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)]
        if module.name != "answering.py" and any(
            re.search("changed on another page", text) for text in texts
        ):
            found.append(module.name)
    assert found == []


def is_form(node: ast.FunctionDef) -> bool:
    return any("router.post" in ast.unparse(one) for one in node.decorator_list)
