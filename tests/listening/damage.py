"""What a phone and a room do to a sound: filters, echo, hum, noise, levels, a wrong clock, lossy codecs."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np

try:
    import av
except ImportError:  # an extra of the tests: without it the codecs are left out, and the table says so
    av = None

DAMAGES = ("clean", "ordinary", "bad")


@dataclass(frozen=True)
class Phone:
    """One draw of a recorder and its room."""

    highpass_hz: float
    echo_db: float
    echo_s: float
    hum_db: float
    noise_db: float
    clock_ppm: float
    codec: str
    gain_control: bool
    clip: float


def draw_phone(random: np.random.Generator, damage: str) -> Phone:
    if damage == "clean":
        return Phone(0.0, -99.0, 0.1, -99.0, 65.0, random.uniform(-50, 50), "", False, 0.0)
    codecs = ["", "aac", "libopus"] if av else [""]
    if damage == "ordinary":
        return Phone(
            random.uniform(60, 140), random.uniform(-22, -12), random.uniform(0.15, 0.4),
            random.uniform(-60, -40), random.uniform(32, 48),
            random.uniform(-50, 50), str(random.choice(codecs)), False, 0.0,
        )  # fmt: skip
    return Phone(
        random.uniform(120, 250), random.uniform(-14, -7), random.uniform(0.25, 0.6),
        random.uniform(-42, -28), random.uniform(20, 28), random.uniform(-80, 80), str(random.choice(codecs)),
        bool(random.random() < 0.5), float(random.choice([0.0, 0.0, 0.35, 0.6])),
    )  # fmt: skip


def worsen(random: np.random.Generator, sound: np.ndarray, rate: int, phone: Phone) -> np.ndarray:
    sound = _clock(sound, phone.clock_ppm)
    power = float(np.mean(sound**2))
    if phone.echo_db > -90:
        sound = _room(random, sound, rate, phone)
    t = np.arange(len(sound)) / rate
    mains = random.choice([50.0, 60.0]) * (1 + random.uniform(-2e-3, 2e-3))
    hum = sum(
        random.uniform(0.2, 1) / k * np.sin(2 * np.pi * k * mains * t + random.uniform(0, 6.28))
        for k in (1, 2, 3, 4, 6)
    )
    sound = sound + hum * np.sqrt(power) * 10 ** (phone.hum_db / 20)
    if phone.highpass_hz:
        sound = _highpass(sound, rate, phone.highpass_hz)
        power = float(np.mean(sound**2))
    sound = sound + _noise(random, len(sound), rate) * np.sqrt(power) * 10 ** (-phone.noise_db / 20)
    if phone.gain_control:
        sound = _gain_control(sound, rate)
    if phone.clip:
        top = phone.clip * np.abs(sound).max()
        sound = np.clip(sound, -top, top)
    sound = 0.7 * sound / np.abs(sound).max()
    if phone.codec:
        bits = int(random.choice([96000, 64000]) if phone.noise_db > 30 else random.choice([48000, 32000]))
        sound = coded(sound, rate, phone.codec, bits)
    return np.round(np.clip(sound, -1, 1) * 32767) / 32767


def _clock(sound: np.ndarray, ppm: float) -> np.ndarray:
    """Played on a clock ``ppm`` fast: resampled in the spectrum, so that nothing else changes."""
    size = _quick(len(sound))
    new = round(size * (1 + ppm * 1e-6))
    if abs(new - size) < 2:
        return sound
    # What is transformed is stretched to a whole number of samples more or less: the truth is in the ratio.
    spectrum = np.fft.rfft(sound, size)
    keep = min(len(spectrum), new // 2 + 1)
    out = np.zeros(new // 2 + 1, dtype=complex)
    out[:keep] = spectrum[:keep]
    return np.fft.irfft(out, new)[: round(len(sound) * new / size)] * new / size


def _quick(size: int) -> int:
    """A size no smaller that transforms quickly: one of small factors."""
    return size + -size % 8192


def _room(random: np.random.Generator, sound: np.ndarray, rate: int, phone: Phone) -> np.ndarray:
    size = int(phone.echo_s * 1.2 * rate)
    t = np.arange(size) / rate
    tail = random.normal(0, 1, size) * 10 ** (-3 * t / phone.echo_s)
    tail[: int(0.004 * rate)] = 0
    tail *= 10 ** (phone.echo_db / 20) / np.sqrt(np.sum(tail**2)) * 2
    tail[0] += 1.0
    total = 2 ** int(np.ceil(np.log2(len(sound) + size)))
    return np.fft.irfft(np.fft.rfft(sound, total) * np.fft.rfft(tail, total), total)[: len(sound)]


def _highpass(sound: np.ndarray, rate: int, corner: float) -> np.ndarray:
    """Two poles, as a phone's own filter has, applied in the spectrum."""
    size = _quick(len(sound) + rate)
    s = 1j * np.fft.rfftfreq(size, 1 / rate) / corner
    return np.fft.irfft(np.fft.rfft(sound, size) * s**2 / (s**2 + 1.414 * s + 1), size)[: len(sound)]


def _noise(random: np.random.Generator, size: int, rate: int) -> np.ndarray:
    """Between white and pink."""
    spectrum = np.fft.rfft(random.normal(0, 1, size), _quick(size))
    spectrum /= np.maximum(np.fft.rfftfreq(_quick(size), 1 / rate), 30.0) ** random.uniform(0, 0.5)
    noise = np.fft.irfft(spectrum, _quick(size))[:size]
    return noise / noise.std()


def _gain_control(sound: np.ndarray, rate: int) -> np.ndarray:
    """Falls within 20 ms and rises over half a second towards one loudness."""
    block = rate // 100
    count = len(sound) // block + 1
    level = np.array([np.sqrt(np.mean(sound[i * block : (i + 1) * block] ** 2) + 1e-9) for i in range(count)])
    aim = np.clip(0.15 / np.maximum(level, 1e-3), 0.3, 8.0)
    gain, now = np.empty(count), 1.0
    for i, wanted in enumerate(aim):
        now += (wanted - now) * (0.4 if wanted < now else 0.02)
        gain[i] = now
    return sound * np.interp(np.arange(len(sound)), np.arange(count) * block, gain)


def coded(sound: np.ndarray, rate: int, codec: str, bits: int) -> np.ndarray:
    """Through a lossy codec and back, at ``rate``; the codec's own delay stays in."""
    file = io.BytesIO()
    coded_rate = 48000
    # Whole frames of the codec: a last one that is nearly empty is more than some muxers take.
    frame_size = (960 if codec == "libopus" else 1024) * rate // coded_rate
    sound = np.pad(sound, (0, -len(sound) % frame_size))
    with av.open(file, "w", format="ogg" if codec == "libopus" else "mp4") as out:
        stream = out.add_stream(codec, rate=coded_rate, layout="mono")
        stream.bit_rate = bits
        up = av.AudioResampler(format="fltp" if codec == "aac" else "flt", layout="mono", rate=coded_rate)
        frame = av.AudioFrame.from_ndarray(sound.astype(np.float32)[None], format="fltp", layout="mono")
        frame.sample_rate = rate
        for part in [*up.resample(frame), *up.resample(None)]:
            out.mux(stream.encode(part))
        out.mux(stream.encode(None))
    file.seek(0)
    down = av.AudioResampler(format="fltp", layout="mono", rate=rate)
    heard = []
    with av.open(file) as source:
        for frame in source.decode(audio=0):
            heard += [part.to_ndarray()[0] for part in down.resample(frame)]
        heard += [part.to_ndarray()[0] for part in down.resample(None)]
    return np.concatenate(heard).astype(float)
