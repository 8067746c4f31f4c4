"""What an earlier trial showed going wrong, each told to the seat again: readings and all, by a scripted
player."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from tests.trial.seat import Seat

Heard = Callable[[], list[tuple[int, int]]]
GUARD = 200


class Scripted:
    """A player on a plain instrument of the test's own: values by slot, screws that do what they should.

    `relief` follows the rod by `per_eighth`; a saddle's height and tuning follow its screw's pitch.
    """

    def __init__(
        self, seat: Seat, truth: Mapping[str, float], per_eighth: float = 0.05, pitch: float = 0.5
    ) -> None:
        self.seat, self.truth = seat, dict(truth)
        self.per_eighth, self.pitch = per_eighth, pitch
        self.asked: list[dict[str, Any]] = []
        self.said: dict[str, list[float]] = {}
        self.heard: Heard = list
        self.answers: dict[str, list[str]] = {}
        self.relief_method = "feeler"

    def play(self, until: Callable[[dict[str, Any]], bool] = lambda ask: False) -> dict[str, Any]:
        """Obey until the end, or until something is asked for."""
        for _ in range(GUARD):
            ask = self.seat.next()
            self.asked.append(ask)
            if ask["do"] == "finish" or until(ask):
                return ask
            getattr(self, f"_{ask['do']}")(ask)
        raise AssertionError("it never ended")

    def _read(self, ask: dict[str, Any]) -> None:
        slot = ask["slot"]
        scripted = self.said.get(slot)
        value = scripted.pop(0) if scripted else self.truth.get(slot, _ORDINARY[ask["check"]])
        if ask["check"] == "relief" and self.relief_method == "card":
            words = ["none", "one", "two", "more"]
            return self.seat.read(slot, "card", answer=words[max(0, min(3, int(value / 0.3)))])
        methods = {
            "relief": "feeler",
            "height": "gauge",
            "nut": "feeler",
            "intonation": "tuner",
            "pickups": "gauge",
        }
        step = {"relief": 0.05, "height": 0.05, "nut": 0.05, "intonation": 1.0, "pickups": 0.1}[ask["check"]]
        read = max(0.0, round(value / step) * step) if ask["check"] != "intonation" else round(value)
        self.seat.read(slot, methods[ask["check"]], value=read, step=step)

    def _turn(self, ask: dict[str, Any]) -> None:
        slot, turns = ask["slot"], ask["eighths"] / 8
        if ask["part"] == "rod":
            self.truth["relief"] = self.truth.get("relief", 0.3) - ask["eighths"] * self.per_eighth
        elif ask["part"] == "saddle_height":
            self.truth[slot] = self.truth.get(slot, 2.5) + turns * self.pitch / 2.126
        elif ask["part"] == "saddle_position":
            for place, share in (("12", 2.0), ("high", 4.0)):
                key = f"intonation.{ask['string']}.{place}"
                self.truth[key] = self.truth.get(key, 0.0) - turns * self.pitch * share
        elif ask["part"] == "pickup":
            self.truth[slot] = self.truth.get(slot, 2.4) - turns * self.pitch
        self.seat.turn(slot, ask["eighths"])

    def _board(self, ask: dict[str, Any]) -> None:
        self.seat.board(self.heard())

    def _question(self, ask: dict[str, Any]) -> None:
        self.seat.answer(ask["name"], self.answers.get(ask["name"], []))

    def _rest(self, ask: dict[str, Any]) -> None:
        self.seat.wait(ask["hours"])

    def _repairer(self, ask: dict[str, Any]) -> None:
        pass

    def of(self, do: str, start: str = "") -> list[dict[str, Any]]:
        return [ask for ask in self.asked if ask["do"] == do and ask["slot"].startswith(start)]


_ORDINARY = {"relief": 0.3, "height": 2.3, "nut": 0.4, "intonation": 0.0, "pickups": 2.3}


def test_four_strings_far_too_high_all_come_down_the_inner_ones_too() -> None:
    heights = {f"height.{n}": 4.2 for n in range(1, 5)}
    player = Scripted(Seat("bass_4_34", {"height_thread": "M3"}), heights)
    player.play()
    assert {ask["slot"] for ask in player.of("turn", "height")} == set(heights)
    assert all(ask["eighths"] < 0 for ask in player.of("turn", "height"))
    usual = {1: (1.2, 3.0), 2: (1.3, 3.2), 3: (1.4, 3.4), 4: (1.5, 3.6)}
    assert all(low <= player.truth[f"height.{n}"] <= high for n, (low, high) in usual.items())


def test_a_back_bowed_neck_that_reads_nothing_three_times_goes_on_loosening() -> None:
    player = Scripted(Seat("bass_4_34"), {"relief": -0.30}, per_eighth=0.05)
    player.play(lambda ask: ask["slot"].startswith("height"))
    turns = player.of("turn", "relief")
    assert len(turns) >= 4 and all(ask["eighths"] < 0 for ask in turns)
    assert player.truth["relief"] >= 0.08


def test_a_guitar_read_with_a_card_comes_to_an_honest_end() -> None:
    player = Scripted(Seat("electric_6", {"height_thread": "M3"}), {"relief": 0.55, **_low_guitar()})
    player.relief_method = "card"
    player.play()
    assert 0.04 <= player.truth["relief"] <= 0.40
    state = player.seat.state()["relief"]
    assert state["word"] in ("good", "a touch low", "a touch high", "cannot tell with this tool")
    assert not player.of("repairer", "relief")


def _low_guitar() -> dict[str, float]:
    return {f"height.{n}": 1.5 for n in range(1, 7)} | {f"nut.{n}": 0.3 for n in range(1, 7)}


def test_notes_that_no_height_cures_are_raised_for_twice_and_then_their_cause_is_looked_for() -> None:
    player = Scripted(Seat("bass_4_34", {"height_thread": "M3"}), {"relief": 0.3})
    player.heard = lambda: [(2, 5), (2, 9), (2, 14)]
    player.play()
    raised = [ask for ask in player.of("turn", "height.2") if ask["eighths"] > 0]
    assert len(raised) == 2
    assert player.truth["height.2"] <= 3.2
    asked = [ask["name"] for ask in player.of("question") if ask["slot"] == "height.cause"]
    assert asked == ["loose", "technique", "neighbour"]


def test_a_high_fret_far_from_twice_the_octave_is_turned_for_or_said_but_never_dropped() -> None:
    truth = {"relief": 0.3, "intonation.4.12": -3.0, "intonation.4.high": -19.0}
    player = Scripted(Seat("bass_4_34", {"intonation_thread": "M3"}), truth)
    player.play()
    turned = player.of("turn", "intonation.4")
    said = player.of("repairer", "intonation.4")
    assert turned or said
    assert all(ask["eighths"] < 0 for ask in turned)
    assert abs(player.truth["intonation.4.12"]) <= 5


def test_an_unknown_thread_is_known_after_the_first_saddle_and_the_rest_go_the_whole_way() -> None:
    heights = {f"height.{n}": 3.9 for n in range(1, 5)}
    player = Scripted(Seat("bass_4_34", {"height_thread": "unknown"}), heights, pitch=0.8)
    player.play(lambda ask: ask["do"] == "board")
    turns = player.of("turn", "height")
    first = turns[0]["slot"]
    # What the first screw showed serves all: none of the others needs a third turn.
    others = [[t for t in turns if t["slot"] == f"height.{n}"] for n in range(1, 5) if f"height.{n}" != first]
    assert all(len(these) <= 2 for these in others)
    assert player.seat.case.belief.neck.mixture.moments(player.seat.case.belief.neck.row(3))[0] > 0.7


def test_a_single_slip_of_a_millimetre_is_asked_about_once_and_nothing_is_turned_for_it() -> None:
    heights = {"height.4": 2.4, "height.3": 2.3, "height.2": 2.2, "height.1": 2.0}
    player = Scripted(Seat("bass_4_34", {"height_thread": "M3"}), {"relief": 0.3, **heights})
    player.said["relief"] = [0.3, 1.3, 0.3]
    seat = player.seat
    seat.read("relief", "feeler", value=0.3, step=0.05)
    seat.read("relief", "feeler", value=1.3, step=0.05)
    assert seat.state()["relief"]["word"] == "measure again"
    ask = seat.next()
    assert (ask["do"], ask["slot"]) == ("read", "relief")
    seat.read("relief", "feeler", value=0.3, step=0.05)
    player.said.clear()
    player.play()
    assert not player.of("turn", "relief") and not player.of("turn", "height")


def test_a_slip_at_the_first_reading_of_a_string_turns_nothing_either() -> None:
    heights = {"height.4": 2.4, "height.3": 2.3, "height.2": 2.2, "height.1": 2.0}
    player = Scripted(Seat("bass_4_34", {"height_thread": "M3"}), {"relief": 0.3, **heights})
    player.said["height.2"] = [5.2]
    player.play()
    assert len(player.of("read", "height.2")) == 2
    assert not player.of("turn", "height")


def test_a_rod_that_will_not_move_is_left_alone_and_named() -> None:
    player = Scripted(Seat("bass_4_34"), {"relief": 0.9})
    ask = player.play(lambda ask: ask["do"] == "turn")
    player.seat.turn(ask["slot"], 0, outcome="will_not_move")
    player.play()
    assert not player.of("turn", "relief")[1:]
    assert any("will not move" in ask["why"] for ask in player.of("repairer", "relief"))


def test_a_floating_bridge_is_brought_level_before_any_string_is_read() -> None:
    truth = {"height.level": 2.0, "relief": 0.2} | {f"nut.{n}": 0.35 for n in range(1, 7)}
    player = _OnSprings(Seat("electric_6_floating"), truth | {f"height.{n}": 1.7 for n in range(1, 7)})
    player.play()
    places = [ask["slot"] for ask in player.asked if ask["do"] in ("read", "turn")]
    first_string = next(i for i, slot in enumerate(places) if slot in {f"height.{n}" for n in range(1, 7)})
    assert "height.level" not in places[first_string:]
    turns = player.of("turn", "height.level")
    assert turns and all(abs(ask["eighths"]) <= 2 for ask in turns)
    assert abs(player.truth["height.level"]) <= 1.0


class _OnSprings(Scripted):
    """Both claw screws together: a whole turn draws the rear edge down by 1.5 mm."""

    def _turn(self, ask: dict[str, Any]) -> None:
        if ask["part"] != "springs":
            return super()._turn(ask)
        self.truth["height.level"] -= ask["eighths"] / 8 * 1.5
        self.seat.turn(ask["slot"], ask["eighths"])


class TurnsBackwards(Scripted):
    """Turns the second string's saddle the wrong way round, the first time, until it can go no further."""

    def _turn(self, ask: dict[str, Any]) -> None:
        if ask["slot"] != "intonation.2.12" or any(a["slot"] == ask["slot"] for a in self.turned):
            self.turned.append(ask)
            return super()._turn(ask)
        self.turned.append(ask)
        for place, cents in (("12", -9.0), ("high", -18.0)):
            self.truth[f"intonation.2.{place}"] += cents
        self.seat.turn(ask["slot"], ask["eighths"], outcome="no_room")

    turned: list[dict[str, Any]]


def test_no_room_after_a_turn_the_wrong_way_round_is_no_end_of_the_screw() -> None:
    flat = {"intonation.2.12": -17.0, "intonation.2.high": -34.0}
    player = TurnsBackwards(Seat("bass_4_34", {"intonation_thread": "M3"}), flat)
    player.turned = []
    player.play()
    turns = [ask["eighths"] for ask in player.turned if ask["slot"] == "intonation.2.12"]
    assert len(turns) >= 2 and all(eighths < 0 for eighths in turns)
    assert abs(player.truth["intonation.2.12"]) < 5
    assert not any(ask["do"] == "repairer" for ask in player.asked)
