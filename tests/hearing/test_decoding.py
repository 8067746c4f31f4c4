"""A take becomes samples whatever wrote it, and a damaged or hostile file hurts nobody."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import wave

import numpy as np
import pytest

from webapp.hearing.decoding import LONGEST_S, TOO_LONG, NotHeard, samples_of

av = pytest.importorskip("av")

TONE_HZ = 220.0
# What phones and browsers write: container, codec, rate, channels.
KINDS = [
    ("mp4", "aac", 44100, 2),
    ("ogg", "libopus", 48000, 1),
    ("webm", "libopus", 48000, 2),
    ("mp3", "libmp3lame", 44100, 1),
    ("flac", "flac", 48000, 1),
    ("mov", "pcm_s16le", 48000, 2),
]


def tone(rate: int, seconds: float) -> np.ndarray:
    return 0.5 * np.sin(2 * np.pi * TONE_HZ * np.arange(int(rate * seconds)) / rate)


def encoded(container: str, codec: str, rate: int, channels: int, seconds: float = 3.0) -> bytes:
    """A tone as that sort of file."""
    kept = io.BytesIO()
    with av.open(kept, "w", format=container) as file:
        stream = file.add_stream(codec, rate=rate, layout="stereo" if channels == 2 else "mono")
        sound = (np.repeat(tone(rate, seconds), channels) * 32767).astype(np.int16).reshape(1, -1)
        frame = av.AudioFrame.from_ndarray(sound, format="s16", layout=stream.layout.name)
        frame.sample_rate = rate
        for packet in [*stream.encode(frame), *stream.encode(None)]:
            file.mux(packet)
    return kept.getvalue()


def plain_wav(rate: int, channels: int, seconds: float = 3.0) -> bytes:
    kept = io.BytesIO()
    with wave.open(kept, "wb") as file:
        file.setnchannels(channels)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes((np.repeat(tone(rate, seconds), channels) * 32767).astype("<i2").tobytes())
    return kept.getvalue()


def pitch_of(samples: np.ndarray, rate_hz: float) -> float:
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), 8 * len(samples)))
    return float(np.argmax(spectrum) * rate_hz / (8 * len(samples)))


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: f"{kind[0]}-{kind[1]}")
def test_what_a_phone_writes_is_read(kind: tuple[str, str, int, int]) -> None:
    samples, rate_hz = samples_of(io.BytesIO(encoded(*kind)))
    assert rate_hz == 24_000
    assert len(samples) == pytest.approx(3 * rate_hz, rel=0.05)
    assert pitch_of(samples, rate_hz) == pytest.approx(TONE_HZ, rel=2e-4)


@pytest.mark.parametrize(("rate", "channels"), [(24_000, 1), (48_000, 2)])
def test_a_plain_wav_needs_no_decoder(rate: int, channels: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "av", None)
    samples, rate_hz = samples_of(io.BytesIO(plain_wav(rate, channels)))
    assert (len(samples), rate_hz) == (3 * rate, rate)
    assert pitch_of(samples, rate_hz) == pytest.approx(TONE_HZ, rel=2e-4)
    with pytest.raises(NotHeard, match=r"benchside\[listen\]"):
        samples_of(io.BytesIO(b"\0" * 100))


@pytest.mark.parametrize(
    "make", [lambda s: plain_wav(8000, 1, s), lambda s: encoded("flac", "flac", 8000, 1, s)]
)
def test_what_is_too_long_is_refused(make: object) -> None:
    with pytest.raises(NotHeard) as refused:
        samples_of(io.BytesIO(make(LONGEST_S + 2.0)))  # type: ignore[operator]
    assert refused.value.sentence == TOO_LONG


def test_a_list_of_other_files_is_not_followed(tmp_path: object) -> None:
    """Formats that name files or addresses to open are on no list."""
    for text in (
        b"#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\n/etc/hostname\n#EXT-X-ENDLIST\n",
        b"ffconcat version 1.0\nfile '/etc/hostname'\n",
        b"v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nt=0 0\nm=audio 9999 RTP/AVP 0\n",
    ):
        with pytest.raises(NotHeard):
            samples_of(io.BytesIO(text))


DAMAGED = """
import io, sys, json
import numpy as np
from webapp.hearing.apart import bind
bind(90, 1_500_000_000)
from webapp.hearing.decoding import NotHeard, samples_of
whole = [bytes.fromhex(line) for line in sys.stdin.read().split()]
random, told = np.random.default_rng(3), {"read": 0, "refused": 0}
for number in range(200):
    file = bytearray(whole[number % len(whole)])
    for at in random.integers(0, len(file), 1 + number // 8):
        file[at] = random.integers(0, 256)
    if number % 3 == 0:
        file = file[: random.integers(0, len(file))]
    try:
        samples, rate = samples_of(io.BytesIO(bytes(file)))
        assert np.isfinite(rate) and samples.ndim == 1
        told["read"] += 1
    except NotHeard as why:
        assert why.sentence
        told["refused"] += 1
print(json.dumps(told))
"""


def test_two_hundred_damaged_files_break_nothing() -> None:
    files = [encoded(*kind, 1.2).hex() for kind in KINDS] + [plain_wav(24_000, 1, 1.2).hex()]
    done = subprocess.run(
        [sys.executable, "-c", DAMAGED], input="\n".join(files), capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 0, done.stderr[-2000:]
    told = json.loads(done.stdout)
    assert told["read"] > 20 and told["refused"] > 20 and told["read"] + told["refused"] == 200


@pytest.mark.skipif(sys.platform != "linux", reason="the bounds are Linux's")
@pytest.mark.parametrize(
    ("deed", "ends"),
    [
        ("open('written', 'w').write('x' * 9999)", "File too large"),
        ("import numpy; numpy.ones(4_000_000_000 // 8)", "MemoryError"),
        ("[open('/dev/null') for _ in range(100)]", "Too many open files"),
    ],
)
def test_the_child_binds_its_hands(deed: str, ends: str, tmp_path: object) -> None:
    code = f"from webapp.hearing.apart import bind\nbind(90, 1_500_000_000)\n{deed}"
    where = {"PYTHONPATH": ":".join(sys.path)}
    done = subprocess.run(
        [sys.executable, "-B", "-c", code], capture_output=True, text=True, cwd=str(tmp_path), env=where
    )
    assert done.returncode != 0 and ends in done.stderr
