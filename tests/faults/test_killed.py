"""The server is killed, again and again, while four clients write: nothing promised is lost or doubled."""

from __future__ import annotations

import random
import time

from tests.faults.support import House, Writer, assert_each_once, moments, write_through

STEPS = 300
KILLS = 4


def test_whatever_was_acknowledged_is_there_once(house: House) -> None:
    seed = random.randrange(10**6)
    print(f"seed {seed}")
    first, second = house.fill(2)
    house.start()
    # Two and two write into the same journal.
    journals = enumerate((first, first, second, second))
    writers = [Writer(house.browser(), setup, f"w{n}", STEPS // 4) for n, setup in journals]
    due = moments(KILLS, STEPS, seed)
    wait = random.Random(seed)

    def trouble(acknowledged: int) -> None:
        if due and acknowledged >= due[0]:
            due.pop(0)
            time.sleep(wait.uniform(0, 0.03))
            house.kill()
            house.start()

    write_through(house, writers, trouble)
    assert due == []
    assert sum(len(writer.acknowledged) for writer in writers) == STEPS
    assert_each_once(house, writers)
