"""Imports point one way, and only the store knows SQL."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import webapp

ROOT = Path(webapp.__file__).parent

SUMS = {"physics", "trade", "setups"}
# What each part may import of ours. Only `app` and the command put the parts together.
LAYERS = {
    "physics": set(),
    "hearing": {"physics"},
    "trade": set(),
    "store": set(),
    "setups": {"trade", "physics"},
    "drawings": {"setups", "trade", "physics"},
    "web": {"store", "drawings", *SUMS},
    "pages": {"web", "store", "drawings", "hearing", *SUMS},
    "command": {"app", "pages", "web", "store", "drawings", "hearing", *SUMS},
}
# Inside setups: the belief stands on these alone, and nothing that is believed knows how it is judged.
UNDER_THE_BELIEF = {"belief", "geometry", "journal", "slots"}
# Who still names a check's own module, where CHECKS and READ_CHECKS could be asked. It may only get shorter.
NAME_A_CHECKS_MODULE = {
    "setups/assess.py", "setups/buzz/evidence.py", "setups/buzz/weigh.py", "setups/tryout/how_low.py",
    "setups/tryout/intonation_split.py", "setups/past/report.py", "setups/invented/story.py",
}  # fmt: skip
# How many modules outside setups/checks/ name a check, and in how many places one asks which check it has.
# A check is one object: these, too, may only get fewer.
MODULES_THAT_NAME_A_CHECK = 9
PLACES_THAT_ASK_WHICH_CHECK = 13
# What the store may import of ours, one by one: what it keeps in its tables and gives out in a bench file.
STORED = {"webapp.setups.journal", "webapp.setups.bench_file.schema", "webapp.trade.words"}
SQL = {"sqlmodel", "sqlalchemy", "alembic", "sqlite3"}
WEB = {"fastapi", "starlette", "jinja2", "uvicorn"}
# pages get their sessions from the store; these only pass the engine on.
MAY_NAME_AN_ENGINE = {"app.py", "command/demo.py", "command/opening.py", "web/state.py"}
SQL_WORDS = ("SELECT ", "INSERT INTO", "DELETE FROM", "CREATE TABLE", "PRAGMA ", "BEGIN IMMEDIATE")


@cache
def tree_of(module: Path) -> ast.Module:
    return ast.parse(module.read_text(encoding="utf-8"))


def modules(layer: str = "") -> list[Path]:
    return sorted((ROOT / layer).rglob("*.py"))


def place(module: Path) -> str:
    """The part of the house that a module stands in: a folder's name, or its own at the top."""
    return module.relative_to(ROOT).with_suffix("").parts[0]


def imported(module: Path) -> Iterator[tuple[int, str]]:
    """Every module named by an import anywhere in the file, also inside functions."""
    for node in ast.walk(tree_of(module)):
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
        if not (layer == "store" and name in STORED)
    ]
    assert wrong == []


def test_every_folder_has_its_rule() -> None:
    folders = {folder.name for folder in ROOT.iterdir() if (folder / "__init__.py").is_file()}
    assert folders == set(LAYERS)


@pytest.mark.parametrize("module", modules(), ids=lambda module: str(module.relative_to(ROOT)))
def test_only_the_store_knows_sql(module: Path) -> None:
    if place(module) == "store":
        return
    tree = tree_of(module)
    named = {name.split(".")[0] for _, name in imported(module)} & SQL
    if module.relative_to(ROOT).as_posix() in MAY_NAME_AN_ENGINE:
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
        for node in ast.walk(tree_of(module)):
            if not isinstance(node, ast.Call):
                continue
            by_name = isinstance(node.func, ast.Name) and node.func.id in opened
            by_clock = isinstance(node.func, ast.Attribute) and node.func.attr in read
            if by_name or by_clock:
                wrong.append(f"{module.name}:{node.lineno}")
    assert wrong == []


@pytest.mark.parametrize("part", ["", "setups", "pages", "store"])
def test_no_two_rooms_of_a_part_lean_on_one_another(part: str) -> None:
    """A room is a folder, or a module beside it."""
    name = ".".join(filter(None, ("webapp", part)))
    leans: dict[str, set[str]] = {}
    for module in modules(part):
        room = module.relative_to(ROOT / part).with_suffix("").parts[0]
        ours = (n.removeprefix(f"{name}.") for _, n in imported(module) if n.startswith(f"{name}."))
        names = {n.split(".")[0] for n in ours}
        leans.setdefault(room, set()).update(names - {room})
    for to in leans.values():
        to &= leans.keys()
    free: set[str] = set()
    while ready := {room for room, to in leans.items() if room not in free and to <= free}:
        free |= ready
    assert {room: sorted(to - free) for room, to in leans.items() if room not in free} == {}


def folders() -> dict[str, list[str]]:
    """The folders of the house, and the modules that each holds."""
    inits = [m.parent for m in modules() if m.name == "__init__.py"]
    return {
        folder.relative_to(ROOT).as_posix(): [m.stem for m in folder.glob("*.py") if m.stem != "__init__"]
        for folder in inits
    }


def test_every_folder_can_be_surveyed_and_says_what_it_is() -> None:
    sizes = {name: len(held) for name, held in folders().items()}
    assert max(sizes.values()) <= 26, sizes
    assert sizes["."] <= 4 and sizes["setups"] <= 20 and sizes["pages"] <= 4
    for name in sizes:
        told = ast.get_docstring(ast.parse((ROOT / name / "__init__.py").read_text(encoding="utf-8")))
        assert told and len(told.splitlines()) >= (3 if "/" in name else 1), name


def test_the_map_for_newcomers_names_the_folders_there_are() -> None:
    page = (ROOT.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    drawn = page.partition("## The map")[2].split("```")[1]
    there = {name for folder in folders() for name in folder.split("/")} - {".", "migrations"}
    assert {name for name in there if not re.search(rf"\b{name}\b", drawn)} == set()
    assert len(page.splitlines()) <= 150


def within_setups(module: Path) -> set[str]:
    """What a module imports of setups: 'belief', 'checks', 'journal'."""
    return {name.split(".")[2] for _, name in imported(module) if name.startswith("webapp.setups.")}


def test_the_belief_knows_nothing_of_what_is_judged_by_it() -> None:
    found = {str(m.relative_to(ROOT)): within_setups(m) - UNDER_THE_BELIEF for m in modules("setups/belief")}
    assert len(found) > 5
    assert {name: more for name, more in found.items() if more} == {}
    below = {str(m): within_setups(m) for m in modules("setups") if m.stem in UNDER_THE_BELIEF}
    assert not any("checks" in names or "belief" in names for names in below.values())


def test_the_checks_judge_by_the_belief() -> None:
    judging = [m for m in modules("setups/checks") if "belief" in within_setups(m)]
    assert {m.stem for m in judging} >= {"base", "relief", "heights_turned", "intonation", "pickups"}


def test_no_two_modules_of_setups_lean_on_one_another() -> None:
    names = {".".join(("webapp", *m.relative_to(ROOT).with_suffix("").parts)): m for m in modules("setups")}
    names = {name.removesuffix(".__init__"): module for name, module in names.items()}
    leans: dict[str, set[str]] = {name: set() for name in names}
    for name, module in names.items():
        for node in ast.walk(tree_of(module)):
            if isinstance(node, ast.ImportFrom):
                whole = [f"{node.module}.{alias.name}" for alias in node.names]
                leans[name] |= {one if one in names else node.module or "" for one in whole} & names.keys()
    free: set[str] = set()
    while ready := {name for name, to in leans.items() if name not in free and to <= free}:
        free |= ready
    assert sorted(names.keys() - free) == []


def test_checks_are_asked_through_their_table() -> None:
    found = set()
    for module in modules():
        name = module.relative_to(ROOT).as_posix()
        if name.startswith(("setups/checks/", "pages/")):
            continue
        for node in ast.walk(tree_of(module)):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("webapp.setups.checks"):
                own = node.module != "webapp.setups.checks"
                if own or {alias.name for alias in node.names} - {"CHECKS", "READ_CHECKS"}:
                    found.add(name)
    assert found <= NAME_A_CHECKS_MODULE


def is_check(node: ast.AST) -> bool:
    """`Check.RELIEF`, or a row of such."""
    if isinstance(node, ast.Tuple | ast.Set | ast.List):
        return any(map(is_check, node.elts))
    return isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "Check"


def test_fewer_and_fewer_places_ask_which_check_it_is() -> None:
    naming, asking = 0, 0
    for module in modules():
        if module.relative_to(ROOT).as_posix().startswith("setups/checks/"):
            continue
        nodes = list(ast.walk(tree_of(module)))
        naming += any(is_check(node) for node in nodes)
        compared = [(node.left, *node.comparators) for node in nodes if isinstance(node, ast.Compare)]
        asking += sum(any(map(is_check, sides)) for sides in compared)
    assert naming <= MODULES_THAT_NAME_A_CHECK
    assert asking <= PLACES_THAT_ASK_WHICH_CHECK
