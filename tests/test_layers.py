"""Imports point one way, and only the store knows SQL."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import webapp

ROOT = Path(webapp.__file__).parent

# What each part may import of ours. The modules at the top (app, cli, ...) put the parts together.
LAYERS = {
    "physics": set(),
    "trade": set(),
    "store": set(),
    "setups": {"trade", "physics"},
    "drawings": {"setups", "trade", "physics"},
    "pages": {"store", "drawings", "setups", "trade", "physics", "state", "settings", "kept"},
}
SQL = {"sqlmodel", "sqlalchemy", "alembic", "sqlite3"}
WEB = {"fastapi", "starlette", "jinja2", "uvicorn"}
# pages get their sessions from the store; these only pass the engine on.
MAY_NAME_AN_ENGINE = {"app", "demo", "opening", "state"}
SQL_WORDS = ("SELECT ", "INSERT INTO", "DELETE FROM", "CREATE TABLE", "PRAGMA ", "BEGIN IMMEDIATE")


def modules(layer: str = "") -> list[Path]:
    return sorted((ROOT / layer).rglob("*.py"))


def place(module: Path) -> str:
    """The part of the house that a module stands in: a folder's name, or its own at the top."""
    return module.relative_to(ROOT).with_suffix("").parts[0]


def imported(module: Path) -> Iterator[tuple[int, str]]:
    """Every module named by an import anywhere in the file, also inside functions."""
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}:{node.lineno}: say the whole name"
            name = node.module or ""
            yield node.lineno, name
            if name == "webapp":
                yield from ((node.lineno, f"webapp.{alias.name}") for alias in node.names)


@pytest.mark.parametrize("layer", LAYERS)
def test_imports_point_one_way(layer: str) -> None:
    found = modules(layer)
    assert found, f"there is nothing in {layer}"
    wrong = [
        f"{module.relative_to(ROOT)}:{line}: {name}"
        for module in found
        for line, name in imported(module)
        if name.startswith("webapp.") and name.split(".")[1] not in LAYERS[layer] | {layer}
    ]
    assert wrong == []


def test_every_folder_has_its_rule() -> None:
    folders = {folder.name for folder in ROOT.iterdir() if (folder / "__init__.py").is_file()}
    assert folders == set(LAYERS)


@pytest.mark.parametrize("module", modules(), ids=lambda module: str(module.relative_to(ROOT)))
def test_only_the_store_knows_sql(module: Path) -> None:
    if place(module) == "store":
        return
    tree = ast.parse(module.read_text(encoding="utf-8"))
    named = {name.split(".")[0] for _, name in imported(module)} & SQL
    if place(module) in MAY_NAME_AN_ENGINE:
        names = {
            alias.name
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("sqlalchemy")
            for alias in node.names
        }
        assert names <= {"Engine"}
        named.discard("sqlalchemy")
    assert named == set()
    texts = [node.value for node in ast.walk(tree) if isinstance(node, ast.Constant)]
    spoken = [text for text in texts if isinstance(text, str) and any(word in text for word in SQL_WORDS)]
    assert spoken == []


@pytest.mark.parametrize("layer", ["physics", "trade", "setups", "drawings", "store"])
def test_below_the_pages_nothing_knows_the_web(layer: str) -> None:
    wrong = {
        (module.name, name)
        for module in modules(layer)
        for _, name in imported(module)
        if name.split(".")[0] in WEB
    }
    assert wrong == set()


@pytest.mark.parametrize("layer", ["physics", "setups", "drawings"])
def test_the_sums_read_no_file_and_no_clock(layer: str) -> None:
    opened = {"open", "input", "print", "exec", "eval"}
    read = {"now", "today", "utcnow", "read_text", "read_bytes"}
    wrong = []
    for module in modules(layer):
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            by_name = isinstance(node.func, ast.Name) and node.func.id in opened
            by_clock = isinstance(node.func, ast.Attribute) and node.func.attr in read
            if by_name or by_clock:
                wrong.append(f"{module.name}:{node.lineno}")
    assert wrong == []
