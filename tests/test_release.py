"""The lowest versions: none with a fault in how it reads requests, and all of them named."""

from __future__ import annotations

import tomllib
from importlib.metadata import version

from tests.release import TOP, floors

# The first versions without a published fault in reading requests: advisories GHSA-vqfr-h8mv-ghfj (h11),
# GHSA-82w8-qh3p-5jfq and GHSA-7f5h-v6xp-fcq8 (Starlette), GHSA-mj87-hwqh-73pj (python-multipart).
WITHOUT_FAULT = {"h11": (0, 16), "starlette": (1, 3, 1), "python-multipart": (0, 0, 26)}


def numbers(text: str) -> tuple[int, ...]:
    return tuple(int(part) for part in text.split(".") if part.isdigit())


def test_no_version_with_a_fault_in_reading_requests_is_allowed() -> None:
    lowest = dict(one.split("==") for one in floors())
    for name, first in WITHOUT_FAULT.items():
        assert numbers(lowest[name]) >= first, name
        assert numbers(version(name)) >= first, name


def test_every_library_has_a_floor_that_can_be_tried() -> None:
    project = tomllib.loads((TOP / "pyproject.toml").read_text())["project"]
    named = [
        *project["dependencies"],
        *(one for some in project["optional-dependencies"].values() for one in some),
    ]
    assert {one.partition(">=")[0].partition("[")[0] for one in named} == {
        one.partition("==")[0] for one in floors()
    }
