"""One router per place on the site, each loaded with the first address that begins with one of its words.

All of them together take as long to load as everything else that a start needs.
"""

from __future__ import annotations

from importlib import import_module

from fastapi import APIRouter
from fastapi.routing import APIRoute

# The first word of an address, and how many words it has; no blank stands for more than one.
Shape = tuple[str, int]

# The module of each router, and the first words of the addresses that it answers to.
PLACES: dict[str, tuple[str, ...]] = {
    "instrument.bench": ("", "units"),
    "instrument.description_form": ("instruments",),
    "setup.setup": ("setups",),
    "setup.readings": ("setups",),
    "setup.adjustments": ("setups",),
    "setup.questions": ("setups",),
    "setup.at_hand": ("tools",),
    "listening.asking": ("setups",),
    "listening.taken": ("takes",),
    "tryout.buzz_finder": ("setups",),
    "setup.quick": ("instruments",),
    "tryout.intonation_split": ("setups",),
    "setup.journal": ("setups",),
    "setup.report": ("setups",),
    "history.history": ("instruments",),
    "instrument.instrument": ("instruments",),
    "tryout.clearance": ("instruments",),
    "instrument.strings": ("instruments",),
    "tryout.touch_test": ("instruments",),
    "tryout.how_low": ("instruments",),
    "tryout.what_if": ("instruments",),
    "air.room": ("air",),
    "air.importing": ("air",),
    "door.entering": ("enter", "pair"),
    "door.devices": ("devices", "phone"),
    "instrument.due": ("due", "due.ics"),
    "history.season": ("instruments",),
    "data.bench_file": ("data",),
    "sharing.share_making": ("instruments", "setups", "shares"),
    "sharing.share_view": ("shared",),
    "lessons.lessons": ("lessons",),
    "lessons.class_sheet": ("lessons",),
    "lessons.lesson_link": ("lesson",),
    "lessons.student": ("setups",),
    "door.come_back": ("back", "come-back"),
}


def shape_of(path: str) -> Shape:
    """The shape of an address, or of a route's: a slash at its end makes no other."""
    words = path.strip("/").split("/")
    return words[0], len(words)


def routes_of(word: str) -> dict[Shape, list[APIRoute]]:
    """The routes of addresses that begin with this word, by their shape, each in the order of asking."""
    found: dict[Shape, list[APIRoute]] = {}
    for place, words in PLACES.items():
        for route in router_of(place).routes if word in words else ():
            assert isinstance(route, APIRoute), "a router holds its own routes alone"
            shape = shape_of(route.path)
            if shape[0] == word:
                found.setdefault(shape, []).append(route)
    return found


def router_of(place: str) -> APIRouter:
    """The router of one of the modules, loaded now if it was not."""
    router = import_module(f"{__name__}.{place}").router
    assert isinstance(router, APIRouter)
    return router
