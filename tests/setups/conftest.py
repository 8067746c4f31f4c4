"""What the tests of the heart share."""

from __future__ import annotations

import pytest

from tests.setups.journals import the_trade
from webapp.trade.content import Trade


@pytest.fixture(scope="session")
def trade() -> Trade:
    """What the repository's content folder says."""
    return the_trade()
