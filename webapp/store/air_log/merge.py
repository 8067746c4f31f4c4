"""Putting readings of the air together, so that whatever was read once counts once.

Daily sums cannot tell what two files have in common, so each import keeps its distinct readings by the day,
packed: the moment and both values in 64 bits. A day's mean is taken over the union of the sets. So the same
file twice, files that overlap and any order of importing all come to the same, and an import can be taken
out again. Values are kept to a hundredth, finer than any sensor.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

Packed = npt.NDArray[np.uint64]
# Makes every temperature positive before it is packed.
_LIFT_C = 100.0


class AirReadings(Protocol):
    """One day's readings, each at the same place in all three: any arrays of numbers."""

    @property
    def moment_ms(self) -> Any: ...
    @property
    def temperature_c(self) -> Any: ...
    @property
    def humidity_percent(self) -> Any: ...


@dataclass(frozen=True)
class Mean:
    temperature_c: float
    humidity_percent: float
    rows: int


def pack(readings: AirReadings) -> Packed:
    """The distinct readings, in order of time; raises ValueError where one does not fit."""
    moment = np.asarray(readings.moment_ms, dtype=np.uint64)
    temperature = _hundredths(np.asarray(readings.temperature_c) + _LIFT_C)
    humidity = _hundredths(np.asarray(readings.humidity_percent))
    return np.unique((moment << np.uint64(32)) | (temperature << np.uint64(16)) | humidity)


def _hundredths(values: npt.NDArray[np.float64]) -> Packed:
    if not np.all((values >= 0) & (values <= 200)):
        raise ValueError("a temperature or a humidity is out of range")
    return np.rint(values * 100).astype(np.uint64)


def together(sets: Iterable[Packed]) -> Packed:
    """Every reading that is in any of the sets, once."""
    some = list(sets)
    return np.unique(np.concatenate(some)) if some else np.empty(0, np.uint64)


def mean(packed: Packed) -> Mean:
    """The mean of at least one reading."""
    temperature = (packed >> np.uint64(16)) & np.uint64(0xFFFF)
    humidity = packed & np.uint64(0xFFFF)
    return Mean(float(temperature.mean()) / 100 - _LIFT_C, float(humidity.mean()) / 100, int(packed.size))


def to_bytes(packed: Packed) -> bytes:
    return zlib.compress(packed.astype("<u8").tobytes())


def from_bytes(kept: bytes) -> Packed:
    return np.frombuffer(zlib.decompress(kept), "<u8").astype(np.uint64)
