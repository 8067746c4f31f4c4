"""A take in a real browser: decoded there over plain http, and recorded there where the page may hear."""

from __future__ import annotations

import io
import wave
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import numpy as np
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import ARGUMENTS, PATIENCE_MS, PHONE, chromium_path
from tests.browser.looking import scrolls_sideways, too_small, unfold, violations
from tests.browser.support import Complaints, Server
from tests.forked import free_port
from tests.listening.strings import RATE, STRINGS, draw_body, pluck
from tests.pages.conftest import Player

# Mapped to this computer by the browser's own rules: a name that no browser trusts without https.
NAME = "bench.test"
# The first bytes of the file that the script puts into its form.
TELL_WHAT_IS_SENT = """
const send = XMLHttpRequest.prototype.send;
XMLHttpRequest.prototype.send = function (body) {
  body.get("take").slice(0, 44).arrayBuffer().then((head) => wasSent([...new Uint8Array(head)]));
  return send.call(this, body);
};
"""
# The seconds of the first note, once the browser has played to its end.
HEAR_A_NOTE = """async () => {
  const note = document.querySelector("audio");
  note.muted = true;
  note.playbackRate = 8;
  const ended = new Promise((done, failed) => {
    note.onended = done;
    note.onerror = () => failed(note.error);
  });
  await note.play();
  await ended;
  return note.duration;
}"""
Notes = list[tuple[str, int]]


def record(path: Path, notes: Notes, rate: int, channels: int, lasts_s: float) -> dict[str, float]:
    """Notes (string, fret) as a WAV file; returns how far off each string is, in cents."""
    random = np.random.default_rng(8)
    bodies = {name: draw_body(random, name) for name, _ in notes}
    parts = [np.zeros(RATE // 2)]
    for name, fret in notes:
        sound = pluck(random, bodies[name], fret, bodies[name].pitch * 2 ** (fret / 12), lasts_s)
        parts += [0.5 * sound, np.zeros(RATE // 4)]
    sound = np.concatenate(parts)
    at = np.arange(int(len(sound) * rate / RATE)) * RATE / rate
    samples = (np.interp(at, np.arange(len(sound)), sound) * 32000).astype("<i2")
    with wave.open(str(path), "wb") as file:
        file.setnchannels(channels)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(np.repeat(samples, channels).tobytes())
    return {name: float(1200 * np.log2(body.pitch / STRINGS[name][0])) for name, body in bodies.items()}


@contextmanager
def served(folder: Path, migrated: Path, *options: str) -> Iterator[tuple[Server, str]]:
    """A Benchside with a setup of a bass begun on it, and the setup's address."""
    server = Server(folder / "data", free_port(), migrated, options=options)
    server.start()
    headers = {"Origin": server.url}
    with httpx.Client(base_url=server.url, headers=headers, cookies=server.cookies()) as client:
        setup = Player(client).begun("bass_4_34")  # type: ignore[arg-type]
    yield server, setup
    server.stop()


@contextmanager
def opened(
    browser: Browser, server: Server, origin: str, complaints: Complaints, *more: str
) -> Iterator[Page]:
    """A page of a browser of its own, which holds a key."""
    own = browser.browser_type.launch(executable_path=chromium_path(), args=[*ARGUMENTS, *more])
    context = own.new_context(base_url=origin, viewport=PHONE)
    context.set_default_timeout(PATIENCE_MS)
    context.add_cookies([{"name": n, "value": v, "url": origin} for n, v in server.cookies().items()])
    page = context.new_page()
    complaints.watch(page)
    yield page
    own.close()
    assert complaints.found == []


def fit(page: Page) -> None:
    """Nothing for axe to find, nothing wider than the phone or too small for a finger, folds and all."""
    unfold(page)
    assert violations(page) + scrolls_sideways(page) + too_small(page) == []


def test_over_plain_http_a_file_is_decoded_in_the_browser_and_sent_as_plain_sound(
    browser: Browser, migrated: Path, tmp_path: Path, complaints: Complaints
) -> None:
    record(tmp_path / "take.wav", [("E1", fret) for fret in (0, 0, 12, 12, 19, 19, 0, 0)], 44_100, 2, 1.3)
    with served(tmp_path, migrated, "--name", NAME) as (server, setup):
        origin = f"http://{NAME}:{server.port}"
        mapped = f"--host-resolver-rules=MAP {NAME} 127.0.0.1"
        with opened(browser, server, origin, complaints, mapped) as page:
            sent: list[list[int]] = []
            page.expose_function("wasSent", lambda head: sent.append(head))
            page.add_init_script(TELL_WHAT_IS_SENT)
            page.goto(f"{setup}/listen/intonation.4")
            assert not page.evaluate("isSecureContext")
            expect(page.get_by_role("button", name="Record here")).to_be_hidden()
            fit(page)
            page.get_by_label("The recording").set_input_files(tmp_path / "take.wav")
            page.get_by_role("button", name="Listen to it").click()
            expect(page.get_by_role("heading", level=1)).to_have_text("What was heard")
            fit(page)
            (head,) = sent
            with wave.open(io.BytesIO(bytes(head))) as sound:
                kind = sound.getframerate(), sound.getsampwidth(), sound.getnchannels()
                assert kind == (24_000, 2, 1) and sound.getnframes() > 11 * 24_000
            assert 1.2 < page.evaluate(HEAR_A_NOTE) < 2
            page.get_by_role("button", name="Record").click()
            page.wait_for_url(lambda address: "/takes/" not in address)
            page.goto(f"{setup}/journal")
            expect(page.get_by_role("main")).to_contain_text("at fret 12, a take, listened to")


def test_on_this_computer_the_page_hears_the_open_strings_and_stops_by_itself(
    browser: Browser, migrated: Path, tmp_path: Path, complaints: Complaints
) -> None:
    names = [name for name in ("E1", "A1", "D2", "G2") for _ in range(2)]
    away = record(tmp_path / "played.wav", [(name, 0) for name in names], 48_000, 1, 1.2)
    heard = f"--use-file-for-fake-audio-capture={tmp_path / 'played.wav'}%noloop"
    fake = ("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream", heard)
    with (
        served(tmp_path, migrated) as (server, setup),
        opened(browser, server, server.url, complaints, *fake) as page,
    ):
        page.goto(f"{setup}/listen/tuning")
        assert page.evaluate("isSecureContext")
        page.get_by_role("button", name="Record here").click()
        needle = page.locator("#needle-says")
        for name in ("E", "A", "D", "G"):
            expect(needle).to_contain_text(f"{name} string")
            if name == "E":
                fit(page)
        expect(page.get_by_role("heading", level=1)).to_have_text("What was heard")
        for name, cents in away.items():
            row = page.get_by_role("row").filter(has_text=f"{name[0]} string")
            shown = float(row.get_by_role("cell").first.inner_text().replace("−", "-"))
            assert abs(shown - cents) < 1.0
