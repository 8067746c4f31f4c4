"""What must hold on every page: nothing for axe to find, nothing wider than the phone, nothing too small."""

from __future__ import annotations

from tests.browser.looking import pages_of, scrolls_sideways, too_small, under_way, unfold, violations
from tests.browser.story import HEIGHTS, Player
from tests.browser.support import Complaints, NewPage, Server


def test_every_page_is_fit_for_everyone_and_for_a_phone(
    new_page: NewPage, demo_server: Server, complaints: Complaints
) -> None:
    complaints.expected_statuses.add(404)
    page = new_page(demo_server, color_scheme="light")
    found: dict[str, list[str]] = {}
    paths = pages_of(page)
    assert len(paths) > 35
    for path in paths:
        page.goto(path)
        unfold(page)
        amiss = violations(page) + scrolls_sideways(page) + too_small(page)
        if amiss:
            found[path] = amiss
    assert found == {}


def test_a_refused_form_is_fit_for_everyone(
    new_page: NewPage, demo_server: Server, complaints: Complaints
) -> None:
    complaints.expected_statuses.add(422)
    page = new_page(demo_server)
    setup = under_way(page)
    player = Player(page)
    for path, button in ((f"{setup}/read/relief", "Record"), (f"{setup}/log", "Record"),
                         (f"{setup}/ask/buzz", "These buzz")):  # fmt: skip
        page.goto(path)
        if path.endswith("relief"):
            player.field("Feeler gauge").fill("12")
        player.press(button)
        player.reads("Please check")
        assert violations(page) + too_small(page) + scrolls_sideways(page) == []


def test_what_asks_for_a_hand_is_fit_for_everyone(new_page: NewPage, server: Server) -> None:
    """The pages that come up only when something is amiss."""
    page = new_page(server)
    player = Player(page)

    def look() -> None:
        unfold(page)
        assert violations(page) + scrolls_sideways(page) + too_small(page) == []

    player.make_a_bass("Attic bass")
    player.press("Start a setup")
    player.get_ready()
    player.measure("Relief", "Feeler gauge", "0.7")
    look()
    player.turned()
    player.reads("Find the thickest blade")
    player.reads("expected about")
    look()
    player.measure("Relief", "Feeler gauge", "2 mm")
    player.reads("measure again")
    look()
    player.measure("Relief", "Feeler gauge", "0.4")
    player.measure_all("String height", {name: "4" for name in HEIGHTS})
    player.reads("Lower the saddle of the E string")
    look()
    player.turned()
    player.reads("Leave empty what you do not read now")
    player.reads("expected about")
    look()
    player.measure_all("String height", HEIGHTS)
    player.sees("Pluck every fret")
    for place in (
        "string 4 (E), fret 3",
        "string 4 (E), fret 5",
        "string 1 (G), fret 9",
    ):
        page.get_by_role("checkbox", name=place, exact=True).check()
    look()
    player.press("These buzz")
    player.reads("E string: buzzes at several frets")
    look()
    player.follow("All checks")
    player.reads("The rod is settling")
    look()
    player.follow("Journal")
    player.reads("Strike out")
    look()
