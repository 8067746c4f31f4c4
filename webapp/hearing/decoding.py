"""A take as samples: a plain WAV file is read as it is, anything else is decoded where PyAV is there."""

from __future__ import annotations

import wave
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]
LONGEST_S = 240
SHORTEST_S = 1.0
RATE_HZ = 24_000
FULL_SCALE = 32_768
LEAST_RATE_HZ, MOST_RATE_HZ = 8000, 96_000
# What phones and computers write, and no format that names other files to open.
FORMATS = ("wav", "w64", "aiff", "caf", "mov", "matroska", "ogg", "mp3", "aac", "amr", "flac", "3gp", "webm")
CODECS = (
    "aac", "aac_latm", "alac", "amrnb", "amrwb", "flac", "mp3", "mp3float", "opus", "vorbis",
    "pcm_s16le", "pcm_s16be", "pcm_s24le", "pcm_s24be", "pcm_s32le", "pcm_f32le", "pcm_u8",
)  # fmt: skip
MOST_STREAMS = 8
MOST_FAULTS = 20

NOT_SOUND = "This file could not be read as sound. Record the take again, or choose another file."
NO_DECODER = (
    "This Benchside reads WAV files only. Open this page with scripts allowed, or record as WAV; or, on "
    "Benchside's own computer, type: pip install 'benchside[listen]'."
)
TOO_LONG = "This take is longer than four minutes. Record one string at a time."
TOO_SHORT = "There is hardly any sound in this file. Play the notes one after the other, then stop."


class NotHeard(Exception):
    """Nothing can be heard in this file: the sentence why."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def samples_of(file: BinaryIO) -> tuple[Samples, float]:
    """A take as one channel of samples, full scale 1, and their rate in hertz; raises NotHeard."""
    found = _plain(file)
    if found is None:
        file.seek(0)
        found = _decoded(file)
    samples, rate_hz = found
    if len(samples) > LONGEST_S * rate_hz:
        raise NotHeard(TOO_LONG)
    if len(samples) < SHORTEST_S * rate_hz:
        raise NotHeard(TOO_SHORT)
    return samples, rate_hz


def plain_sound(samples: Samples, rate_hz: float) -> bytes:
    """Samples of full scale 1 as 16 bits each at RATE_HZ, without a header: for the ear, not for the sums."""
    together = max(1, int(rate_hz // RATE_HZ))
    whole = samples[: len(samples) // together * together].reshape(-1, together).mean(axis=1)
    at = np.arange(int(len(samples) * RATE_HZ / rate_hz)) * (rate_hz / together / RATE_HZ)
    sound = np.interp(at, np.arange(len(whole)), whole) * FULL_SCALE
    return bytes(np.clip(sound, -FULL_SCALE, FULL_SCALE - 1).astype("<i2").tobytes())


def _plain(file: BinaryIO) -> tuple[Samples, float] | None:
    """A WAV file of 16 bits a sample; None where it is anything else."""
    try:
        with wave.open(file) as sound:
            channels, width, rate_hz = sound.getnchannels(), sound.getsampwidth(), sound.getframerate()
            if width != 2 or channels > 2 or not LEAST_RATE_HZ <= rate_hz <= MOST_RATE_HZ:
                return None
            raw = sound.readframes(LONGEST_S * rate_hz + 1)
    except (wave.Error, EOFError, OSError, ValueError, ZeroDivisionError, OverflowError):
        return None
    whole = len(raw) // (2 * channels) * channels
    frames = np.frombuffer(raw, "<i2", whole).reshape(-1, channels)
    return frames.mean(axis=1) / FULL_SCALE, float(rate_hz)


def _decoded(file: BinaryIO) -> tuple[Samples, float]:
    try:
        import av
        from av.error import FFmpegError
    except ImportError as missing:
        raise NotHeard(NO_DECODER) from missing
    try:
        with av.open(file, options=_allowed()) as container:
            return _from(container), float(RATE_HZ)
    except (FFmpegError, ValueError, EOFError, OSError) as odd:
        raise NotHeard(NOT_SOUND) from odd


def _allowed() -> dict[str, str]:
    """What the library may open: these formats and codecs, and nothing by an address."""
    return {
        "format_whitelist": ",".join(FORMATS),
        "codec_whitelist": ",".join(CODECS),
        "protocol_whitelist": "none",
    }


def _from(container: Any) -> Samples:
    """The first sound of a file, as one channel at RATE_HZ; a damaged packet is left out."""
    from av.audio.resampler import AudioResampler
    from av.error import FFmpegError

    streams = container.streams.audio
    if not streams or len(container.streams) > MOST_STREAMS:
        raise NotHeard(NOT_SOUND)
    # A codec that is not on the list has no context at all.
    if streams[0].codec_context is None or streams[0].codec_context.name not in CODECS:
        raise NotHeard(NOT_SOUND)
    resampler = AudioResampler(format="flt", layout="mono", rate=RATE_HZ)
    parts: list[NDArray[np.float32]] = []
    length, faults = 0, 0
    for packet in container.demux(streams[0]):
        try:
            frames = [out for frame in packet.decode() for out in resampler.resample(frame)]
        except FFmpegError:
            faults += 1
            if faults > MOST_FAULTS:
                raise
            continue
        for frame in frames:
            parts.append(frame.to_ndarray()[0])
            length += len(parts[-1])
        if length > LONGEST_S * RATE_HZ:
            raise NotHeard(TOO_LONG)
    # A file of floats may hold what is no number.
    return (
        np.nan_to_num(np.concatenate(parts).astype(np.float64), posinf=0, neginf=0) if parts else np.zeros(0)
    )
