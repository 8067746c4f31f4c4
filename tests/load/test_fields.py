"""The quick way to read a form says what a real parser says, on each page that the load maker fills in."""

from __future__ import annotations

from tests.conftest import on_sqlite
from tests.load.fields import form_fields, statics, words
from tests.pages.conftest import Form, Player
from tests.pages.walk import Walk


def agree(html: str, action: str) -> bool:
    found = form_fields(html, action)
    return bool(found) and found == Form(html, action).fields


@on_sqlite
def test_it_reads_every_page_of_a_setup_as_a_parser_does(player: Player) -> None:
    page = player.get("/instruments/new?kind=bass_4_34").text
    assert agree(page, "/instruments/new")
    instrument = player.make("bass_4_34", name='The "old" <one> & more')
    assert agree(player.get(instrument).text, f"{instrument}/setups")
    walk = Walk(player, player.begin(instrument), {"relief": ["0.8", "0.3"], "height.4": ["4", "2.4"]})
    seen = set()
    while (place := walk.here()) != "finish":
        if place not in seen:
            assert agree(player.get(f"{walk.setup}/{place}").text, f"{walk.setup}/{place}"), place
        seen.add(place)
        walk.step()
    assert {"ask/start", "ask/buzz", "ask/playtest", "adjust/relief"} <= seen
    assert agree(player.get(f"{walk.setup}/finish").text, f"{walk.setup}/finish")


@on_sqlite
def test_it_reads_a_lessons_form(player: Player) -> None:
    assert agree(player.get("/lessons/new?kind=bass_4_34").text, "/lessons/new")


def test_text_comes_back_as_it_was_typed() -> None:
    html = '<form method="post" action="/a?b=1&amp;c"><input name="x" value="5&#34; &amp; &lt;">' \
        "<textarea name=\"note\">one\n&amp; two</textarea></form>"  # fmt: skip
    assert form_fields(html, "/a?b=1&amp;c") == {"x": '5" & <', "note": "one\n& two"}
    assert form_fields(html, "/a") is None


def test_what_a_first_visit_fetches_and_what_a_page_says() -> None:
    script = '<script src="/static/b.js"></script>'
    main = '<main id="main" data-title="Title"><h1>Too  many</h1><p>5 &lt; 6</p></main>'
    html = f'<link href="/static/a.css?v=1">{script}{script}{main}'
    assert statics(html) == ["/static/a.css?v=1", "/static/b.js"]
    assert words(html) == "Too many 5 < 6"
