"""The answer to a form: on to a page of its own, or the form again with all that was typed and its faults."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from fastapi.responses import Response

from webapp.pages.visit.forms import FormReader
from webapp.store.errors import AlreadyRecorded, Stale

Found = TypeVar("Found")

TWICE = "This was recorded already; nothing was recorded twice."
STALE = (
    "Meanwhile this was changed on another page. What you typed is still here: look through it once more, "
    "then press the button again."
)


class NotKept(Exception):
    """Nothing was kept: the sentence for the page, and the field that it stands beside."""

    def __init__(self, sentence: str, field: str = "", status: int = 409) -> None:
        super().__init__(sentence)
        self.sentence, self.field, self.status = sentence, field, status


def answer(
    form: FormReader,
    found: Found | None,
    keep: Callable[[Found], Response],
    show: Callable[[int], Response],
    made_at: Callable[[str], str] = lambda made: "",
) -> Response:
    """What every form is answered with, once it was read; `found` is what was read.

    A form with a fault keeps nothing and is shown again with 422. Else `keep` does its work, once, and leads
    on with 303. Where something newer was saved meanwhile, or this very form before, or the page has a reason
    of its own (NotKept), the form is shown again with 409 and the sentence. It then knows what is newest:
    sending it again is the player's decision. `made_at` gives the address of what the form made before.
    """
    if found is None or not form.ok:
        return show(422)
    status = 409
    try:
        return keep(found)
    except Stale:
        form.fault("", STALE)
    except AlreadyRecorded as earlier:
        form.fault("", TWICE, made_at(str(earlier.recorded_id)))
    except NotKept as refusal:
        form.fault(refusal.field, refusal.sentence)
        status = refusal.status
    form.told_newest = True
    return show(status)
