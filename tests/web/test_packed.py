"""A page that is kept says the same packed and plain, and is taken as the browser asks."""

from __future__ import annotations

import gzip
from pathlib import Path

from starlette.datastructures import Headers

from webapp.web.packed import Packed
from webapp.web.settings import Assets, build_of

WORDS = "<p>Höhe 2⅜ mm</p>" * 50


def test_who_takes_it_packed_gets_the_same_words() -> None:
    page = Packed.of(WORDS)
    packed = page.answer(Headers({"accept-encoding": "br, gzip"}))
    plain = page.answer(Headers({}))
    assert gzip.decompress(packed.body).decode() == bytes(plain.body).decode() == WORDS
    assert packed.headers["content-encoding"] == "gzip" and "content-encoding" not in plain.headers
    assert packed.headers["vary"] == plain.headers["vary"] == "Accept-Encoding"
    assert int(packed.headers["content-length"]) == len(packed.body) < len(plain.body) / 5


def test_other_content_is_another_build(tmp_path: Path) -> None:
    (tmp_path / "kinds").mkdir()
    file = tmp_path / "kinds" / "a.toml"
    file.write_text("scale_mm = 863.6\n")
    folders = Assets(tmp_path, tmp_path, tmp_path)
    before = build_of(folders)
    assert build_of(folders) == before
    file.write_text("scale_mm = 864\n")
    assert build_of(folders) != before
