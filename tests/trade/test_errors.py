"""Finding the line of a value in TOML text, however the value is written."""

from __future__ import annotations

import tomllib

import pytest

from webapp.trade.errors import line_of

TEXT = '''\
# a comment with = and [brackets]
title = "has # and \\" inside"
long = """
three
lines = [ ]
"""
literal = 'C:\\'
a.b = 1

[table]
numbers = [
  1,
  # between
  { x = 2, "y z" = [3,
     4] },
]

[[item]]
name = "first"
[item.part]
size = 1

[[item]]
name = "second"
  [[item.piece]]
  size = 2
  [[item.piece]]
  size = 3
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("title",), 2),
        (("long",), 3),
        (("literal",), 7),
        (("a", "b"), 8),
        (("table",), 10),
        (("table", "numbers", 0), 12),
        (("table", "numbers", 1, "x"), 14),
        (("table", "numbers", 1, "y z", 1), 15),
        (("item", 0, "name"), 19),
        (("item", 0, "part", "size"), 21),
        (("item", 1, "name"), 24),
        (("item", 1, "piece", 0, "size"), 26),
        (("item", 1, "piece", 1, "size"), 28),
        (("item", 1, "absent"), 23),
        (("item", 1, "piece", 1, "tag", "size"), 28),
        (("absent",), 1),
        ((), 1),
    ],
)
def test_line_of(path: tuple[str | int, ...], line: int) -> None:
    tomllib.loads(TEXT)
    assert line_of(TEXT, path) == line
