"""The pictures of a place: they follow what is typed."""

from __future__ import annotations

from tests.pages.conftest import Player, plain


def test_the_picture_follows_what_is_typed_and_leaves_alone_what_cannot_be_read(player: Player) -> None:
    at = f"{player.begun('bass_4_34')}/read/relief/picture"
    words = plain(player.get(f"{at}?tool=feeler&value=0.6&value_unit=mm").text)
    assert "this gap 0.60 mm" in words and "now 0.60" in words
    assert "this gap .024 in" not in words
    for typed in ("", "0.", "one finger", "-", "9" * 400, "<b>", "nan"):
        answer = player.client.get(at, params={"tool": "feeler", "value": typed, "value_unit": "mm"})
        assert answer.status_code in (200, 204) and "<b>" not in answer.text
