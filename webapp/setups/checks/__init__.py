"""One module a check: its places, how they are read and said, what to turn.

Ask `CHECKS[slot.check]`, or `READ_CHECKS` for those whose places are read; few import a check's own module.
"""

from __future__ import annotations

from collections.abc import Mapping

from webapp.setups.checks.base import BenchCheck, ReadCheck
from webapp.setups.checks.height import Height
from webapp.setups.checks.intonation import Intonation
from webapp.setups.checks.nut import Nut
from webapp.setups.checks.pickups import Pickups
from webapp.setups.checks.playtest import Playtest
from webapp.setups.checks.relief import Relief
from webapp.setups.checks.start import Start
from webapp.trade.words import Check

# The order of the bench: the rod moves everything after it, so it comes first.
CHECKS: Mapping[Check, BenchCheck] = {
    one.check: one for one in (Start(), Relief(), Height(), Nut(), Intonation(), Pickups(), Playtest())
}
READ_CHECKS: Mapping[Check, ReadCheck] = {
    check: one for check, one in CHECKS.items() if isinstance(one, ReadCheck)
}
