"""Judges that every drawing must pass."""

from collections.abc import Callable
from math import isfinite

import pytest

from webapp.drawings.shapes import Drawing, Text, extent

Judge = Callable[[Drawing], None]


@pytest.fixture(scope="session")
def on_paper() -> Judge:
    """All coordinates are finite and inside the viewBox, bar a pen's width."""

    def judge(drawing: Drawing) -> None:
        assert isfinite(drawing.width) and isfinite(drawing.height) and drawing.height > 0
        for shape in drawing.flat():
            left, top, right, bottom = extent(shape)
            assert all(isfinite(v) for v in (left, top, right, bottom)), shape
            assert left >= -0.6 and right <= drawing.width + 0.6, shape
            assert top >= -0.6 and bottom <= drawing.height + 0.6, shape

    return judge


@pytest.fixture(scope="session")
def no_overlap() -> Judge:
    """No two texts touch."""

    def judge(drawing: Drawing) -> None:
        texts = [s for s in drawing.flat() if isinstance(s, Text)]
        for index, one in enumerate(texts):
            for other in texts[index + 1 :]:
                a, b = one.box, other.box
                across = min(a[2], b[2]) - max(a[0], b[0])
                down = min(a[3], b[3]) - max(a[1], b[1])
                assert across <= 0.5 or down <= 1.0, (one, other)

    return judge
