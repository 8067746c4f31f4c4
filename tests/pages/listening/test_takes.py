"""A take on its way: sent, listened to in a process of its own, shown, recorded once; and what is refused."""

from __future__ import annotations

import io
import json
import os
import re
import time
import wave
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
from starlette.testclient import TestClient

from tests.keyed import keyed
from tests.listening.strings import RATE, draw_body, pluck, tuning_take
from tests.pages.conftest import Form, Player, plain
from webapp.hearing.answers import Answer, packed
from webapp.pages.listening import take_work
from webapp.pages.listening.take_work import EACH, KEPT_S, SILENT_S, NoRoom, Takes, TakeState
from webapp.physics.buzz_sound import AS_LOUD
from webapp.store import benches, rates
from webapp.store.engine import writing
from webapp.store.lock import hold

NOW = datetime(2026, 6, 1, tzinfo=UTC)


def wav(sound: np.ndarray, rate: int = RATE, channels: int = 1) -> bytes:
    """A plain WAV file."""
    kept = io.BytesIO()
    samples = (np.clip(sound, -1, 1) * 32000).astype("<i2")
    with wave.open(kept, "wb") as file:
        file.setnchannels(channels)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(np.repeat(samples, channels).tobytes())
    return kept.getvalue()


def send(client: TestClient, page: str, take: bytes, name: str = "take.wav") -> httpx.Response:
    return client.post(page, files={"take": (name, take)}, follow_redirects=False)


def heard(player: Player, sent: httpx.Response, within_s: float = 120) -> str:
    """The address of a take, once it was listened to."""
    assert sent.status_code == 303, plain(sent.text)[:500]
    path = str(sent.headers["location"])
    until = time.monotonic() + within_s
    while "<h1>Listening</h1>" in player.get(path).text:
        assert time.monotonic() < until
        time.sleep(0.1)
    return path


@dataclass(frozen=True)
class Bass:
    """An E string of a bass: open twice, 12 twice, 19 twice, open twice, and the pitch of each."""

    sound: np.ndarray
    pitch_hz: dict[int, float]


@pytest.fixture(scope="module")
def bass() -> Bass:
    random = np.random.default_rng(5)
    body = draw_body(random, "E1")
    off = {0: 0.0, 12: -5.5, 19: 7.5}
    pitch = {fret: body.pitch * 2 ** (fret / 12 + cents / 1200) for fret, cents in off.items()}
    parts = [np.zeros(RATE // 2)]
    for fret in (0, 0, 12, 12, 19, 19, 0, 0):
        parts += [0.5 * pluck(random, body, fret, pitch[fret], 1.3), np.zeros(RATE // 4)]
    return Bass(np.concatenate(parts), pitch)


def true_cents(bass: Bass, fret: int) -> float:
    return float(1200 * np.log2(bass.pitch_hz[fret] / bass.pitch_hz[0]) - 100 * fret)


def entries(player: Player, slot: str = "intonation") -> list[dict[str, Any]]:
    """The journal's entries of a slot, or of the slots that begin so."""
    (instrument,) = player.get("/data/bench.json").json()["instruments"]
    return [entry for entry in instrument["entries"] if entry["slot"].startswith(slot)]


def test_a_take_is_heard_shown_and_recorded(player: Player, bass: Bass) -> None:
    setup = player.begun("bass_4_34")
    page = f"{setup}/listen/intonation.4"
    take = heard(player, send(player.client, page, wav(bass.sound)))
    shown = plain(player.get(take).text)
    assert "Fret 12" in shown and "Fret 19" in shown and "Listening" not in shown
    assert entries(player) == []
    form = player.form(take)
    player.post(take, {**form, "do": "record"})
    assert "recorded already" in player.post(take, {**form, "do": "record"}, 409).text
    found = {e["slot"]: e for e in entries(player)}
    assert set(found) == {"intonation.4.12", "intonation.4.high"}
    for slot, fret in (("intonation.4.12", 12), ("intonation.4.high", 19)):
        entry = found[slot]
        assert entry["value"] == pytest.approx(true_cents(bass, fret), abs=0.5)
        # Give or take 1 cent is the best that is ever said.
        assert 0.5 <= entry["error"] < 1 and entry["tool"] == "phone"
        assert entry["detail"] == {"method": "take", "fret": fret, "notes": 2, "open_notes": 4}
    assert "a take, listened to" in plain(player.get(f"{setup}/journal").text)


def test_without_script_the_file_goes_up_as_the_phone_wrote_it(player: Player, bass: Bass) -> None:
    av = pytest.importorskip("av")
    kept = io.BytesIO()
    with av.open(kept, "w", format="mp4") as file:
        stream = file.add_stream("aac", rate=48_000, layout="mono", bit_rate=128_000)
        at = np.arange(2 * len(bass.sound)) / 2
        sound = np.interp(at, np.arange(len(bass.sound)), bass.sound).astype(np.float32).reshape(1, -1)
        frame = av.AudioFrame.from_ndarray(sound, format="fltp", layout="mono")
        frame.sample_rate = 48_000
        for packet in [*stream.encode(frame), *stream.encode(None)]:
            file.mux(packet)
    setup = player.begun("bass_4_34")
    sent = send(player.client, f"{setup}/listen/intonation.4", kept.getvalue(), "voice memo.m4a")
    take = heard(player, sent)
    for address in sounds(player, take, "Fret 12"):
        assert abs(1200 * np.log2(pitch_of(player.get(address))[0] / bass.pitch_hz[12])) < 30
    player.post(take, {**player.form(take), "do": "record"})
    found = {entry["detail"]["fret"]: entry["value"] for entry in entries(player)}
    assert found == {fret: pytest.approx(true_cents(bass, fret), abs=1.0) for fret in (12, 19)}


def test_a_note_that_is_struck_out_does_not_count(player: Player, bass: Bass) -> None:
    take = heard(
        player, send(player.client, f"{player.begun('bass_4_34')}/listen/intonation.4", wav(bass.sound))
    )
    form = player.form(take)
    again = player.post(take, {**form, "out": ["2", "3"], "do": "again"}).headers["location"]
    shown = player.get(again).text
    assert "not read: play it again" in shown and shown.count(" checked") == 2
    player.post(take, {**Form(shown, take).fields, "out": ["2", "3"], "do": "record"})
    assert [e["slot"] for e in entries(player)] == ["intonation.4.high"]
    every = [str(n) for n in range(8)]
    refused = player.post(take, {**player.form(take), "out": every, "do": "record"}, 422)
    assert "Nothing is left to record" in refused.text
    assert len(entries(player)) == 1


def test_another_string_is_refused_and_a_semitone_lower_is_asked_about(player: Player, bass: Bass) -> None:
    setup = player.begun("bass_4_34")
    lower = wav(bass.sound, round(RATE / 2 ** (1 / 12)))
    take = heard(player, send(player.client, f"{setup}/listen/intonation.4", lower))
    shown = player.get(take).text
    assert "Is it tuned a semitone lower?" in shown and 'value="record"' not in shown
    so = player.get(f"{take}?shift=yes").text
    player.post(take, {**Form(so, take).fields, "do": "record"})
    assert entries(player)[0]["value"] == pytest.approx(true_cents(bass, 12), abs=0.6)
    another = heard(player, send(player.client, f"{setup}/listen/intonation.3", wav(bass.sound)))
    assert "Was it another string?" in player.get(another).text
    # Where no note is shown, no sound is kept.
    player.get(f"{another}/sound?from=1&to=2", 404)
    noise = np.random.default_rng(1).normal(0, 0.1, 6 * RATE)
    refused = heard(player, send(player.client, f"{setup}/listen/intonation.2", wav(noise)))
    assert "Play it again" in player.get(refused).text and 'value="record"' not in player.get(refused).text


def test_the_open_strings_are_told_flat_or_sharp_and_nothing_is_recorded(player: Player) -> None:
    sound = tuning_take(np.random.default_rng(9), ["E1", "A1", "D2", "G2"])
    setup = player.begun("bass_4_34")
    take = heard(player, send(player.client, f"{setup}/listen/tuning", wav(sound.sound)))
    shown = player.get(take).text
    rows = re.findall(r'<th scope="row">(\w) string.*?number">([^<]*)<.*?<td>([^<]*)</td></tr>', shown)
    truth = {
        "EADG"[s.string - 1]: 1200 * np.log2(s.pitch_hz / sound.asked[2 * s.string - 2][2])
        for s in sound.truth
    }
    assert [name for name, *_ in rows] == list("EADG")
    for name, cents, said in rows:
        away = truth[name]
        assert float(cents.replace("−", "-")) == pytest.approx(away, abs=0.6)
        if abs(abs(away) - 3) > 1:
            assert said == ("in tune" if abs(away) < 3 else "flat" if away < 0 else "sharp")
    assert 'value="record"' not in shown
    assert entries(player) == []


def test_the_microphone_is_for_these_pages_alone(player: Player) -> None:
    setup = player.begun("bass_4_34")
    allowed = {
        path: "microphone=(self)" in player.get(path).headers["permissions-policy"]
        for path in (
            f"{setup}/listen/intonation.4",
            f"{setup}/listen/tuning",
            setup,
            f"{setup}/read/relief",
            "/",
        )
    }
    assert [path for path, may in allowed.items() if may] == [
        f"{setup}/listen/intonation.4",
        f"{setup}/listen/tuning",
    ]
    assert all("camera=()" in player.get(path).headers["permissions-policy"] for path in allowed)


def sounds(player: Player, take: str, name: str = "") -> list[str]:
    """The addresses that the page of a take plays, or of those that are named so."""
    found = re.findall(r'<audio [^>]*src="([^"]+)" aria-label="Hear ([^"]+)"', player.get(take).text)
    return [address.replace("&amp;", "&") for address, label in found if name in label]


def pitch_of(answer: httpx.Response) -> tuple[float, float]:
    """The strongest pitch of a WAV file of one channel between 30 and 300 Hz, and its seconds."""
    with wave.open(io.BytesIO(answer.content)) as file:
        kind, rate = (file.getnchannels(), file.getsampwidth()), file.getframerate()
        samples = np.frombuffer(file.readframes(file.getnframes()), "<i2").astype(float)
    assert kind == (1, 2) and len(answer.content) == 44 + 2 * len(samples)
    # What repeats after a period: of a string the lowest partial need not be the strongest.
    power = np.abs(np.fft.rfft(samples, 2 * len(samples))) ** 2
    alike = np.fft.irfft(power)[: len(samples)]
    first, last = rate // 300, rate // 30
    return rate / (first + int(np.argmax(alike[first:last]))), len(samples) / rate


@pytest.mark.parametrize("rate", [RATE, 48_000])
def test_a_note_is_heard_again_until_it_is_recorded(player: Player, bass: Bass, rate: int) -> None:
    """Each note's piece holds that note, whatever rate the take came in."""
    at = np.arange(len(bass.sound) * rate // RATE) * (RATE / rate)
    sound = np.interp(at, np.arange(len(bass.sound)), bass.sound)
    take = heard(
        player, send(player.client, f"{player.begun('bass_4_34')}/listen/intonation.4", wav(sound, rate))
    )
    assert len(sounds(player, take)) == 8
    for fret, name in ((0, "Open"), (12, "Fret 12"), (19, "Fret 19")):
        found = sounds(player, take, name)
        assert len(found) == (4 if fret == 0 else 2)
        for address in found:
            answer = player.get(address)
            assert answer.headers["content-type"] == "audio/wav"
            assert answer.headers["cache-control"] == "no-store"
            pitch, seconds = pitch_of(answer)
            assert abs(1200 * np.log2(pitch / bass.pitch_hz[fret])) < 30 and 1.2 < seconds < 2
    (first, *_) = sounds(player, take)
    player.post(take, {**player.form(take), "do": "record"})
    player.get(first, 404)
    assert sounds(player, take) == []


def test_of_a_take_a_bounded_piece_is_served_to_its_own_bench(player: Player, bass: Bass) -> None:
    app = player.client.app
    page = f"{player.begun('bass_4_34')}/listen/intonation.4"
    take = heard(player, send(player.client, page, wav(bass.sound)))
    assert pitch_of(player.get(f"{take}/sound?from=0&to=240"))[1] == 6.0
    last = len(bass.sound) / RATE - 1
    assert pitch_of(player.get(f"{take}/sound?from={last}&to=1e9"))[1] == pytest.approx(1, abs=0.001)
    odd = ("", "from=1", "from=2&to=1", "from=1&to=1", "from=-1&to=1", "from=nan&to=2", "from=1&to=inf")
    for span in (*odd, "from=x&to=2", "from=99&to=100", "from=1e300&to=1e301", "from=%ff&to=%00"):
        player.get(f"{take}/sound?{span}", 404)
    piece = f"{take}/sound?from=1&to=2"
    whole = player.get(piece).content
    as_it_is = {"Accept-Encoding": "identity"}
    for asked, status, sent in (
        ("bytes=0-1", 206, whole[:2]),
        ("bytes=40-", 206, whole[40:]),
        ("bytes=9-99999999", 206, whole[9:]),
        ("bytes=99999999-", 416, b""),
        ("bytes=5-4", 416, b""),
        ("bytes=a-b", 200, whole),
    ):
        answer = player.client.get(piece, headers={"Range": asked, **as_it_is})
        assert (answer.status_code, answer.content) == (status, sent), asked
    with writing(app.state.bench_app.engine) as session:  # type: ignore[attr-defined]
        stranger = benches.make(session, datetime.now(UTC))
    with keyed(app, stranger) as other:  # type: ignore[arg-type]
        assert other.get(piece).status_code == 404
    # The next take of the bench takes its place, and a day later it is gone.
    again = heard(player, send(player.client, page, wav(bass.sound)))
    player.get(piece, 404)
    player.get(f"{again}/sound?from=1&to=2")
    folder: Path = app.state.bench_app.settings.folder / "takes"  # type: ignore[attr-defined]
    (kept,) = folder.glob("*.heard")
    long_ago = time.time() - KEPT_S - 1
    os.utime(kept, (long_ago, long_ago))
    player.get(f"{again}/sound?from=1&to=2", 404)
    Takes(folder.parent).sweep()
    assert not kept.exists()


def test_so_many_can_be_heard_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(take_work, "HEARD_TOGETHER", 3)
    monkeypatch.setattr(take_work, "_heard", lambda sound, told: (packed(Answer()), b"\0\1" * 100))
    takes, ids = Takes(tmp_path), []
    for n in range(5):
        ids.append(takes.keep(f"bench{n}", "setup", "tuning", [(1, 0, 98.0)], False, io.BytesIO(b"x"), NOW))
        until = time.monotonic() + 30
        while list(takes.folder.glob("*.sound")):
            assert time.monotonic() < until
            time.sleep(0.01)
        # So that one is older than the next, whatever the clock of the disk.
        os.utime(takes.folder / f"bench{n}.{ids[n]}.heard", (time.time() - 60 + n,) * 2)
    assert [takes.can_hear(f"bench{n}", one) for n, one in enumerate(ids)] == [False] * 2 + [True] * 3
    assert (takes.folder / f"bench4.{ids[4]}.heard").stat().st_mode & 0o777 == 0o600


def test_only_the_page_of_a_take_may_play(player: Player) -> None:
    setup = player.begun("bass_4_34")
    take = str(send(player.client, f"{setup}/listen/tuning", b"").headers["location"])
    for path in (take, setup, f"{setup}/listen/tuning", "/"):
        policy = player.get(path).headers["content-security-policy"].split("; ")
        assert ("media-src 'self'" in policy) == (path == take)
        assert policy[0] == "default-src 'none'"


def test_so_many_takes_an_hour(player: Player, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(take_work, "_heard", lambda sound, told: (packed(Answer(refused="Nothing.")), b""))
    monkeypatch.setattr(rates, "LISTENING", replace(rates.LISTENING, each=2))
    page = f"{player.begun('bass_4_34')}/listen/intonation.4"
    for _ in range(2):
        heard(player, send(player.client, page, b"x"))
    refused = send(player.client, page, b"x")
    assert refused.status_code == 429 and "a great many takes" in refused.text


def test_no_file_is_told_and_an_unknown_take_is_not_there(player: Player) -> None:
    setup = player.begun("bass_4_34")
    page = f"{setup}/listen/intonation.4"
    assert "Choose the recording" in player.client.post(page).text
    for what in ("intonation.9", "intonation", "tuning.1", "relief", "buzz.x"):
        player.get(f"{setup}/listen/{what}", 404)
    for take in ("AAAAAAAAAAAA", "...", "x" * 300, "%2e%2e%2fbench"):
        player.get(f"/takes/{take}", 404)


@pytest.mark.parametrize("sent", [b"", b"\0" * 5000, b"RIFF\xff\xff\xff\xffWAVEfmt ", b"#!/bin/sh\n" * 99])
def test_what_is_no_sound_is_refused_kindly(player: Player, sent: bytes) -> None:
    setup = player.begun("bass_4_34")
    take = heard(player, send(player.client, f"{setup}/listen/intonation.1", sent))
    shown = plain(player.get(take).text)
    assert "Play it again" in shown and "Something went wrong" not in shown


def test_what_was_sent_is_deleted_and_another_bench_sees_nothing(player: Player, bass: Bass) -> None:
    app = player.client.app
    folder: Path = app.state.bench_app.settings.folder / "takes"  # type: ignore[attr-defined]
    take = heard(
        player,
        send(player.client, f"{player.begun('bass_4_34')}/listen/intonation.4", wav(bass.sound[:RATE])),
    )
    assert list(folder.glob("*.sound")) == []
    with writing(app.state.bench_app.engine) as session:  # type: ignore[attr-defined]
        stranger = benches.make(session, datetime.now(UTC))
    with keyed(app, stranger) as other:  # type: ignore[arg-type]
        for path in (take, f"{take}/progress"):
            assert other.get(path).status_code == 404
        assert other.post(take, data={"do": "drop"}).status_code == 404
    player.post(take, {"do": "drop"})
    player.get(take, 404)


def test_so_many_wait_at_most_and_one_left_behind_is_said_to_be_cut_off(tmp_path: Path) -> None:
    takes, asked = Takes(tmp_path), [(1, 0, 98.0)]
    takes.folder.mkdir()
    with hold(takes.folder / "turn"):
        ids = [
            takes.keep("bench", "setup", "tuning", asked, False, io.BytesIO(b"x"), NOW) for _ in range(EACH)
        ]
        with pytest.raises(NoRoom):
            takes.keep("bench", "setup", "tuning", asked, False, io.BytesIO(b"x"), NOW)
        takes.keep("other", "setup", "tuning", asked, False, io.BytesIO(b"x"), NOW)
        waiting = takes.find("bench", ids[0])
        assert waiting is not None and waiting.state is TakeState.LISTENING
        for path in takes.folder.glob("*.sound"):
            path.unlink()
        time.sleep(0.5)
    assert json.loads(next(takes.folder.glob(f"bench.{ids[0]}.json")).read_text())["what"] == "tuning"
    left = takes.folder / f"bench.{ids[0]}.sound"
    left.write_bytes(b"x")
    long_ago = time.time() - SILENT_S - 1
    os.utime(left, (long_ago, long_ago))
    found = takes.find("bench", ids[0])
    assert found is not None and found.state is TakeState.CUT_OFF
    takes.drop("bench", ids[0])
    assert takes.find("bench", ids[0]) is None


def test_what_was_heard_to_buzz_waits_on_the_board_for_the_player(
    player: Player, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The phone marks, the player decides: nothing is recorded or cleared by what was heard."""
    starts_s = {(4, 0): (1.0, 3.0), (4, 3): (4.5, 9.5), (4, 5): (11.0, 13.0)}
    answer = Answer(seconds=60, marks={(4, 0): 7.0, (4, 3): 9.0}, unread={(4, 5): AS_LOUD}, starts_s=starts_s)
    monkeypatch.setattr(take_work, "_heard", lambda sound, told: (packed(answer), b"\0\1" * 60 * RATE))
    setup = player.begun("bass_4_34")
    board, page = f"{setup}/ask/buzz", f"{setup}/listen/buzz.4"
    assert "heard by the phone" not in player.get(board).text
    take = heard(player, send(player.client, page, b"a take"))
    shown = plain(player.get(take).text)
    assert "Heard: please confirm" in shown and "E string: open, fret 3." in shown and AS_LOUD in shown
    # The soft note and the hard one, up to what came next; of a long soft one the end.
    heard_again = [
        f"{take}/sound?from={span}" for span in ("0.90&to=4.50", "6.40&to=11.00", "10.90&to=16.90")
    ]
    assert sounds(player, take) == heard_again
    marked = r'<label class="heard"><input type="checkbox" name="buzz" value="([\d:]+)">'
    assert re.findall(marked, player.get(board).text) == ["4:0", "4:3"]
    assert "buzz" not in player.form(board) and entries(player, "height.buzz") == []
    player.fill(board, buzz="4:7")
    (told,) = entries(player, "height.buzz")
    assert told["detail"]["taps"] == [[4, 7]]
    assert "heard by the phone" not in player.get(board).text
