"""What the documents name is there."""

from __future__ import annotations

import ast
import re

from tests.command.test_cli import TOP
from webapp.command.arguments import read_command

SECURITY = (TOP / "webapp/web/SECURITY.md").read_text(encoding="utf-8")
README = (TOP / "README.md").read_text(encoding="utf-8")


def test_every_test_that_the_security_table_names_is_there() -> None:
    named = re.findall(r"`((?:\w+/)*test_\w+\.py)::(test_\w+)`", SECURITY)
    assert len(named) > 40
    for file, test in named:
        tree = ast.parse((TOP / "tests" / file).read_text(encoding="utf-8"))
        assert test in {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}, (file, test)


def test_every_requirement_says_how_it_is_held() -> None:
    rows = [line.strip("| ").split(" | ") for line in SECURITY.splitlines() if re.match(r"\| \d", line)]
    assert len(rows) > 40
    for row in rows:
        assert len(row) == 3, row
        assert row[2].startswith("`") or "**Deviates" in row[1] or "business" in row[1], row


def test_the_readmes_commands_are_taken() -> None:
    joined = README.replace(" \\\n", " ")
    commands = re.findall(r"^ +benchside (serve .*|bench .*|--phone)$", joined, re.MULTILINE)
    commands += re.findall(r"bin/benchside (serve .*)$", joined, re.MULTILINE)
    assert len(commands) >= 5
    for words in commands:
        read_command(words.split())
