"""The clock is set back in the middle of a setup: the order of the journal is the order of recording."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, tzinfo

import pytest

from tests.pages.conftest import Player, plain


class Clock:
    """Stands in for the pages' clock."""

    def __init__(self) -> None:
        self.time = datetime.now(UTC)

    def now(self, zone: tzinfo | None = None) -> datetime:
        return self.time.astimezone(zone)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    made = Clock()
    monkeypatch.setattr("webapp.pages.visit.visit.datetime", made)
    return made


@pytest.mark.parametrize("back", [timedelta(hours=3), timedelta(days=400), timedelta(days=20_000)])
def test_the_newest_reading_counts_whatever_the_clock_says(
    player: Player, clock: Clock, back: timedelta
) -> None:
    instrument = player.make("bass_4_34")
    setup = player.begin(instrument)
    player.fill(f"{setup}/read/relief", value="0.90 mm")
    clock.time -= back
    player.fill(f"{setup}/log", part="rod", way="plus", amount="1")
    player.fill(f"{setup}/read/relief", value="0.31 mm")
    clock.time += timedelta(minutes=1)
    assert "0.31" in plain(player.get(f"{setup}/check/relief").text)
    for path in ("", "/next", "/journal", "/report", "/log", "/read/relief", "/adjust/relief", "/finish"):
        assert player.client.get(setup + path).status_code == 200, path
    for path in ("", "/history", "/history/relief", "/clearance"):
        assert player.client.get(instrument + path).status_code == 200, path
    player.fill(f"{setup}/finish")
    for path in ("/", "/due"):
        assert player.get(path).status_code == 200
    again = player.begin(instrument)
    player.fill(f"{again}/read/relief", value="0.30 mm")
    assert player.get(f"{instrument}/history/relief").status_code == 200
