"""One router per place on the site, each loaded with the first address that begins with one of its words.

All of them together take as long to load as everything else that a start needs.
"""

from __future__ import annotations

from importlib import import_module

from fastapi import APIRouter

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


def places_of(word: str) -> tuple[str, ...]:
    """The modules that answer to addresses that begin with this word, in the order of asking."""
    return tuple(place for place, words in PLACES.items() if word in words)


def router_of(place: str) -> APIRouter:
    """The router of one of the modules, loaded now if it was not."""
    router = import_module(f"{__name__}.{place}").router
    assert isinstance(router, APIRouter)
    return router
