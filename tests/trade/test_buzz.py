"""The causes of a buzz as content: all there, all sayable, and a fault in the file is named."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from webapp.trade.buzz import CauseKey
from webapp.trade.content import ContentError, load_trade

CONTENT = Path(__file__).parents[2] / "content"


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    shutil.copytree(CONTENT, tmp_path / "content")
    return tmp_path / "content"


def test_every_cause_is_described_and_every_age_weighed() -> None:
    trade = load_trade(CONTENT)
    assert {cause.key for cause in trade.buzz.cause} == set(CauseKey)
    assert set(trade.buzz.age_weight) == {age.key for age in trade.start.ages}


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('key = "technique"', 'key = "loose"', "each of these causes is needed once"),
        ("{string}", "{strng}", "only {fret}, {below}, {above} and {string} are filled in"),
    ],
)
def test_a_fault_in_the_file_stops_the_start(copy: Path, old: str, new: str, says: str) -> None:
    path = copy / "buzz.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(ContentError) as fault:
        load_trade(copy)
    assert fault.value.path == path
    assert says in fault.value.sentence
