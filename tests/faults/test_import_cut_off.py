"""The server is killed while it takes a bench file in: nothing of it is there, and it can be sent again."""

from __future__ import annotations

import os
import time

import httpx
import psutil

from tests.faults.imports_beside import GOES_ON, SETUPS, large_file
from tests.faults.support import House
from tests.forked import PATIENCE_S
from webapp.pages.data.import_work import CHILD, SILENT_S


def looked(browser: httpx.Client, place: str, until: str) -> str:
    """The page, as soon as it says this."""
    end = time.monotonic() + PATIENCE_S
    while until not in (page := browser.get(place).text):
        assert time.monotonic() < end, page
        time.sleep(0.1)
    return page


def test_a_file_that_was_on_its_way_when_the_server_was_killed(house: House) -> None:
    house.start()
    with house.browser() as browser:
        file = {"file": ("a.json", large_file())}
        place = browser.post("/data/import", files=file).headers["location"]
        looked(browser, place, "Judging every setup in it")
        assert house.process is not None and house.process.pid is not None
        started = psutil.Process(house.process.pid).children(recursive=True)
        (child,) = [one for one in started if CHILD in one.cmdline()]
        house.kill()
        # With the server its lock on the data is gone: the next one may open it at once.
        child.wait(2)
        house.start()
        about = house.folder / "imports" / f"{place.rpartition('/')[2]}.came"
        long_ago = time.time() - SILENT_S - 1
        os.utime(about, (long_ago, long_ago))
        assert "It was cut off" in browser.get(place).text
        assert browser.get("/data/bench.json").json()["instruments"] == []
        place = browser.post("/data/import", files=file).headers["location"]
        looked(browser, place, "Taken in")
        assert GOES_ON not in browser.get(place).text
        (one,) = browser.get("/data/bench.json").json()["instruments"]
        assert len(one["setups"]) == SETUPS
        assert "Traceback" not in house.log.read_text()
