from __future__ import annotations

import html
import io
import logging
import re
from datetime import UTC, datetime, timedelta

import pytest
from starlette.testclient import TestClient

from tests.keyed import keyed
from tests.pages.conftest import Player, plain
from tests.pages.school import browser
from webapp.pages.sharing import share_view as shared
from webapp.store import benches, rates, shares
from webapp.store.engine import writing
from webapp.web.log import start_log

MARKUP = "<script>alert(1)</script>"


class Sharer:
    """A player with an instrument, a setup with a note, and another instrument."""

    def __init__(self, client: TestClient) -> None:
        self.app = client.app
        self.player = Player(client)
        self.player.make("electric_6", name="Secret guitar")
        self.instrument = self.player.make("bass_4_34", name="Old blue")
        self.setup = self.player.begin(self.instrument)
        self.player.fill(f"{self.setup}/read/relief", value="0.9")
        self.player.fill(f"{self.setup}/log", note="My diary")

    def share(self, what: str = "", **filled: object) -> str:
        """A link to the setup's report, or to what is named; returns its path."""
        page = self.player.fill(f"{what or self.setup}/share", **filled).headers["location"]
        return link_on(self.player.get(page).text)

    def look(self, path: str, status: int = 200) -> str:
        """What somebody without a key sees."""
        return browser(self.app).get(path, status).text  # type: ignore[arg-type]


def link_on(page: str) -> str:
    found = re.search(r"/shared/[\w-]+", page)
    assert found, plain(page)
    return found[0]


@pytest.fixture
def sharer(client: TestClient) -> Sharer:
    return Sharer(client)


class Later(datetime):
    """A clock that is wrong by so much."""

    by = timedelta()

    @classmethod
    def now(cls, tz: object = None) -> datetime:  # type: ignore[override]
        return datetime.now(UTC) + cls.by


def test_a_report_is_shared_to_look_at_and_leads_nowhere(sharer: Sharer) -> None:
    page = sharer.look(sharer.share())
    assert "Old blue" in page and "0.90" in plain(page) and "too much bow" in plain(page)
    assert "diary" not in page and "Secret guitar" not in page
    assert re.findall(r'href="(?!/static/|#)([^"]*)"', page) == []
    assert "<form" not in page and "<button" not in page
    assert "Not finished yet." in page


def test_notes_are_shown_only_when_ticked(sharer: Sharer) -> None:
    assert "My diary" not in sharer.look(sharer.share())
    assert "My diary" in sharer.look(sharer.share(notes="yes"))


def test_a_finished_setups_report_is_shared_as_it_is(sharer: Sharer) -> None:
    sharer.player.fill(f"{sharer.setup}/finish")
    assert "finished" in plain(sharer.look(sharer.share()))


def test_a_history_is_shared_with_every_reading(sharer: Sharer) -> None:
    link = sharer.share(sharer.instrument)
    page = sharer.look(link)
    assert "Old blue" in page and "0.90 mm" in page and "Secret guitar" not in page
    leads_to = re.findall(r'href="(?!/static/|#)([^"]*)"', page)
    assert leads_to == [f"{link}/relief"]
    series = sharer.look(f"{link}/relief")
    assert "0.90 mm" in series and "diary" not in series
    assert re.findall(r'href="(?!/static/|#)([^"]*)"', series) == [link]


def test_a_shared_history_says_what_the_instrument_is_and_what_a_repairer_does(sharer: Sharer) -> None:
    for _ in range(2):
        sharer.player.fill(f"{sharer.setup}/read/nut.4", value="1.2", tool="feeler")
    page = sharer.look(sharer.share(sharer.instrument))
    words = plain(page)
    assert words.index("History") < words.index("For a repairer") < words.index("The instrument")
    assert "Nut: for a repairer." in page and "nut slot high" in words and "Truss rod" in words
    assert "The neck from the side" in page and "href" not in re.findall(r"<svg.*?</svg>", page, re.S)[1]


def test_a_share_shows_its_own_thing_only(sharer: Sharer) -> None:
    report, history = sharer.share(), sharer.share(sharer.instrument)
    gone = sharer.look("/shared/no-such-token", 404)
    for path in (f"{report}/relief", f"{history}/height.4", f"{history}/no.such", f"{history}/%3Cb%3E"):
        assert sharer.look(path, 404) == gone


def test_a_share_opens_nothing_else(sharer: Sharer) -> None:
    token = sharer.share().rpartition("/")[2]
    nobody = browser(sharer.app)  # type: ignore[arg-type]
    nobody.client.cookies.set(sharer.app.state.bench_app.cookie, token)  # type: ignore[attr-defined]
    for path in ("/", sharer.setup, f"{sharer.setup}/report", sharer.instrument, "/shares"):
        nobody.get(path, 401)


def test_unknown_over_and_taken_back_look_the_same(sharer: Sharer, monkeypatch: pytest.MonkeyPatch) -> None:
    unknown = sharer.look("/shared/no-such-token", 404)
    assert "This link opens nothing" in unknown
    link = sharer.share(days="1")
    monkeypatch.setattr(Later, "by", timedelta(hours=23))
    monkeypatch.setattr(shared, "datetime", Later)
    sharer.look(link)
    monkeypatch.setattr(Later, "by", timedelta(days=1, minutes=1))
    assert sharer.look(link, 404) == unknown
    monkeypatch.undo()
    sharer.look(link)
    (action,) = re.findall(r'action="(/shares/[^"]+/revoke)"', sharer.player.get("/shares").text)
    sharer.player.fill("/shares", action=action)
    assert sharer.look(link, 404) == unknown


def test_a_shared_page_is_in_no_index_and_its_address_goes_nowhere(sharer: Sharer) -> None:
    history = sharer.share(sharer.instrument)
    paths = {sharer.share(): 200, history: 200, f"{history}/relief": 200, "/shared/x": 404}
    for path, status in paths.items():
        answer = browser(sharer.app).get(path, status)  # type: ignore[arg-type]
        assert answer.headers["X-Robots-Tag"] == "noindex, nofollow"
        assert answer.headers["Referrer-Policy"] == "no-referrer"
        assert '<meta name="robots" content="noindex, nofollow">' in answer.text
        assert "set-cookie" not in answer.headers
        assert answer.headers["Cache-Control"] == "no-store"


def test_looking_with_a_key_of_another_bench_changes_neither(sharer: Sharer) -> None:
    link = sharer.share()
    answer = Player(keyed(sharer.app)).get(link)  # type: ignore[arg-type]
    assert "set-cookie" not in answer.headers
    assert 'class="wordmark" href' not in answer.text


def test_the_link_is_shown_when_it_is_made_and_not_again(
    sharer: Sharer, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = sharer.player.fill(f"{sharer.setup}/share").headers["location"]
    text = sharer.player.get(page).text
    assert f"http://127.0.0.1:8765{link_on(text)}" in text and text.count('class="qr"') == 1
    assert "/shared/" not in sharer.player.get("/shares").text
    elsewhere = Player(keyed(sharer.app))  # type: ignore[arg-type]
    assert "/shared/" not in elsewhere.get(page).text
    monkeypatch.setattr(shares, "SHOWN_FOR", timedelta(0))
    again = sharer.player.get(page).text
    assert "/shared/" not in again and 'class="qr"' not in again and "not kept here" in again


def test_the_list_says_what_is_shared_until_when_and_when_it_was_opened(sharer: Sharer) -> None:
    assert "Nothing is shared" in sharer.player.get("/shares").text
    link = sharer.share(days="7", notes="yes")
    words = plain(sharer.player.get("/shares").text)
    assert "Report of Old blue" in words and "with notes" in words and "Not opened yet" in words
    sharer.look(link)
    assert "Last opened" in sharer.player.get("/shares").text
    (action,) = re.findall(r'action="(/shares/[^"]+/revoke)"', sharer.player.get("/shares").text)
    sharer.player.fill("/shares", action=action)
    page = sharer.player.get("/shares").text
    assert "Taken back" in page and "/revoke" not in page


def test_a_link_is_good_for_thirty_days_unless_changed(sharer: Sharer) -> None:
    for days in (None, "1", "7", "90"):
        sharer.share(**({} if days is None else {"days": days}))
    with writing(sharer.app.state.bench_app.engine) as session:  # type: ignore[attr-defined]
        found = shares.list_for(session, benches.get_or_create_local_bench(session).id)
    assert [(one.expires_at - one.made_at).days for one in reversed(found)] == [30, 1, 7, 90]
    refused = sharer.player.fill(f"{sharer.setup}/share", 422, days="9999")
    assert "Choose how long the link is good." in refused.text


def test_markup_in_a_name_or_a_note_stays_text_behind_a_share(client: TestClient) -> None:
    sharer = Sharer(client)
    sharer.player.fill(f"{sharer.instrument}/edit", name=MARKUP)
    sharer.player.fill(f"{sharer.setup}/log", note=MARKUP)
    for page in (
        sharer.look(sharer.share(notes="yes")),
        sharer.look(sharer.share(sharer.instrument)),
        sharer.player.get("/shares").text,
        sharer.player.get(f"{sharer.setup}/share").text,
    ):
        assert "<script>alert" not in page and html.escape(MARKUP) in page


def test_another_benchs_things_cannot_be_shared_seen_or_taken_back(sharer: Sharer) -> None:
    with writing(sharer.app.state.bench_app.engine) as session:  # type: ignore[attr-defined]
        other = benches.make(session, datetime.now(UTC))
    stranger = Player(keyed(sharer.app, other))  # type: ignore[arg-type]
    page = sharer.player.fill(f"{sharer.setup}/share").headers["location"]
    link = link_on(sharer.player.get(page).text)
    for path in (f"{sharer.setup}/share", f"{sharer.instrument}/share"):
        stranger.get(path, 404)
        stranger.post(path, {"days": "30"}, 404)
    stranger.get(page, 404)
    stranger.post(f"{page}/revoke", {}, 404)
    assert "Nothing is shared" in stranger.get("/shares").text
    sharer.look(link)


def test_so_many_links_are_made_in_an_hour_and_good_at_once(
    sharer: Sharer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shares, "AT_MOST", 1)
    sharer.share()
    for what in (sharer.setup, sharer.instrument):
        assert "Take one back first" in sharer.player.fill(f"{what}/share", 409).text
    monkeypatch.setattr(shares, "MAKING", rates.Limit("none", 0, 0, rates.LONGEST_WINDOW))
    sharer.player.fill(f"{sharer.setup}/share", 429)


def test_guessing_links_comes_to_an_end(sharer: Sharer) -> None:
    for _ in range(shares.MISSING.each):
        sharer.look("/shared/guess", 404)
    sharer.look("/shared/guess", 429)
    # Whoever has the right link looks on, however many at the same address mistyped it.
    sharer.look(sharer.share())


def test_the_report_and_the_history_offer_to_share(sharer: Sharer) -> None:
    for page, link in ((f"{sharer.setup}/report", f"{sharer.setup}/share"),
                       (f"{sharer.instrument}/history", f"{sharer.instrument}/share")):  # fmt: skip
        assert f'href="{link}"' in sharer.player.get(page).text
        sharer.player.get(link)


def test_no_token_is_logged(sharer: Sharer) -> None:
    out = io.StringIO()
    logger = logging.getLogger("benchside")
    before = (logger.handlers, logger.level, logger.propagate)
    start_log(out)
    try:
        link = sharer.share(sharer.instrument)
        for path in (link, f"{link}/relief"):
            sharer.look(path)
    finally:
        logger.handlers, logger.propagate = before[0], before[2]
        logger.setLevel(before[1])
    told = out.getvalue()
    assert "/shared/{token}/{slot_key}" in told
    assert link.rpartition("/")[2] not in told
