"""From a distance to turns of a screw."""

from __future__ import annotations

import math


def turns(travel_mm: float, pitch_mm: float) -> float:
    """Turns that move a screw ``travel_mm``: ``travel / pitch``, exact and signed.

    Raises ``ValueError`` for a pitch that is not above 0. Source: on a single-start thread one turn travels
    one pitch, ISO 5408:2009, Screw threads, Vocabulary, from memory.
    """
    if not (math.isfinite(pitch_mm) and pitch_mm > 0):
        raise ValueError("the pitch of a screw must be above 0 mm")
    return travel_mm / pitch_mm
