"""What every page of a filled bench keeps to: its weight, no inline script, nothing prepared in vain."""

from __future__ import annotations

import ast
import inspect
import re
import shutil
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import httpx
import jinja2
import pytest
from jinja2 import nodes

from tests.addresses import follow
from tests.keyed import keyed
from tests.pages.conftest import Player
from webapp.app import create_app
from webapp.store.engine import connect
from webapp.trade.content import Trade
from webapp.web.settings import Settings

FIRST_BYTES = 60_000
LATER_BYTES = 15_000
OF_A_KIND = 3


@pytest.fixture(scope="module")
def demo(demo_database: Path, tmp_path_factory: pytest.TempPathFactory, trade: Trade) -> Iterator[Player]:
    """A filled bench."""
    folder = tmp_path_factory.mktemp("demo")
    engine = connect(Path(shutil.copy(demo_database, folder / "bench.sqlite3")))
    app = create_app(Settings(data_dir=folder), trade, engine)
    with keyed(app) as client:
        yield Player(client)
    engine.dispose()


def sent(answer: httpx.Response) -> int:
    """Bytes of a body on the wire."""
    assert answer.headers["content-encoding"] == "gzip" or int(answer.headers["content-length"]) < 1000
    return int(answer.headers["content-length"])


@pytest.fixture(scope="module")
def rendered() -> Iterator[set[tuple[str, type]]]:
    """The templates that were rendered while this stood, each with what its `page` was."""
    found: set[tuple[str, type]] = set()
    render = jinja2.Template.render

    def watched(template: jinja2.Template, *args: Any, **named: Any) -> str:
        context = dict(*args, **named)
        if "page" in context and template.name:
            found.add((template.name, type(context["page"])))
        return render(template, context)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(jinja2.Template, "render", watched)
        yield found


@pytest.fixture(scope="module")
def answers(demo: Player, rendered: set[tuple[str, type]]) -> dict[str, httpx.Response]:
    """Every kind of page of the bench, a few of each."""
    fetched: dict[str, httpx.Response] = {}

    def fetch(path: str) -> str | None:
        if path not in fetched:
            fetched[path] = demo.client.get(path)
        kept = "attachment" in fetched[path].headers.get("content-disposition", "")
        return None if kept or "html" not in fetched[path].headers["content-type"] else fetched[path].text

    pages = follow(["/", "/no/such/page"], fetch, OF_A_KIND)
    assert len(pages) > 60
    assert [path for path in pages if fetched[path].status_code != 200] == ["/no/such/page"]
    return {path: fetched[path] for path in pages}


def test_every_page_is_light_the_first_time_and_after(
    demo: Player, answers: dict[str, httpx.Response]
) -> None:
    linked: dict[str, int] = {}
    for path, answer in answers.items():
        files = re.findall(r'(?:src|href)="(/static/[^"]+\.(?:css|js)\?v=\w+)"', answer.text)
        assert files
        for file in files:
            if file not in linked:
                linked[file] = sent(demo.get(file))
                assert "immutable" in demo.get(file).headers["cache-control"]
        later = sent(answer)
        assert later <= LATER_BYTES, (path, later)
        assert later + sum(linked[file] for file in files) <= FIRST_BYTES, path


def test_pages_carry_no_style_and_no_script_of_their_own(answers: dict[str, httpx.Response]) -> None:
    for path, answer in answers.items():
        page = answer.text
        assert not re.search(r"<style|<script(?! src=)|\sstyle=|\son[a-z]+=|javascript:", page), path
        assert not re.search(r'(?:src|href)="(?:https?:)?//', page), path


def test_what_is_sent_is_the_file_compressed(demo: Player) -> None:
    page = demo.get("/").text
    (css,) = re.findall(r'href="(/static/benchside\.css\?v=\w+)"', page)
    assert sent(demo.get(css)) < len(demo.get(css).content) / 2


def test_nothing_is_prepared_that_its_template_does_not_read(
    demo: Player, answers: dict[str, httpx.Response], rendered: set[tuple[str, type]]
) -> None:
    """(What is read and was not prepared cannot pass either: the templates are strict about it.)"""
    environment = demo.client.app.state.bench_app.templates.env  # type: ignore[attr-defined]
    seen: dict[type, set[str]] = {}
    for template, page in rendered:
        seen.setdefault(page, set()).update(read_in(environment, template))
    contexts = [page for page in seen if is_dataclass(page)]
    assert len(contexts) > 30
    vain = {page.__name__: sorted(offered(page) - seen[page] - own(page)) for page in contexts}
    assert {name: names for name, names in vain.items() if names} == {}


def offered(page: type) -> set[str]:
    """A context's public fields and properties."""
    made = (property, cached_property)
    worked = {name for name, value in inspect.getmembers(page) if isinstance(value, made)}
    return {name for name in worked | {one.name for one in fields(page)} if not name.startswith("_")}


def own(page: type) -> set[str]:
    """What a context's own properties read of it, and what the functions beside it read of a `page`."""
    module = ast.parse(inspect.getsource(inspect.getmodule(page)))  # type: ignore[arg-type]
    attributes = (node for node in ast.walk(module) if isinstance(node, ast.Attribute))
    return {a.attr for a in attributes if isinstance(a.value, ast.Name) and a.value.id in ("self", "page")}


def read_in(environment: jinja2.Environment, template: str) -> set[str]:
    """Every attribute that a template reads, or one that it includes, extends or imports."""
    assert environment.loader is not None
    tree = environment.parse(environment.loader.get_source(environment, template)[0])
    names = {node.attr for node in tree.find_all(nodes.Getattr)}
    for other in tree.find_all((nodes.Include, nodes.Extends, nodes.Import, nodes.FromImport)):
        named = other.template  # type: ignore[attr-defined]
        if isinstance(named, nodes.Const):
            names |= read_in(environment, str(named.value))
    return names
