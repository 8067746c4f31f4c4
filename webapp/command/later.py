"""What a start leaves for later: done after the first answer, or after a while where nobody comes."""

from __future__ import annotations

import gc

from webapp.pages import PLACES, router_of
from webapp.web.settings import Settings
from webapp.web.stopping import STOPPING

WAIT_S = 5.0


def do_later(settings: Settings) -> None:
    """Loads the pages that nobody asked for yet, and sweeps up what a killed process left."""
    for place in PLACES:
        if STOPPING.is_set():
            return
        router_of(place)
    from webapp.pages.listening.take_work import Takes
    from webapp.pages.visit.uploads import folder_of, sweep

    sweep(folder_of(settings))
    Takes(settings.folder).sweep()
    # What was loaded stays: the collector need not look through it again and again.
    gc.freeze()
