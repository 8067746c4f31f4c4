"""Small pictures: sixteen greys, as PNG files that this module alone reads back."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Grey = NDArray[np.uint8]  # rows of 0 (black) to 15 (white)
_SIGNATURE = b"\x89PNG\r\n\x1a\n"


def write(file: Path, picture: Grey) -> None:
    """Keep a picture as a PNG of 4 bits a point."""
    rows, columns = picture.shape
    even = np.pad(picture, ((0, 0), (0, columns % 2)))
    packed = (even[:, 0::2] << 4) | even[:, 1::2]
    unfiltered = np.pad(packed, ((0, 0), (1, 0))).astype(np.uint8).tobytes()
    head = struct.pack(">IIBBBBB", columns, rows, 4, 0, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(unfiltered, 9)), (b"IEND", b""))
    file.write_bytes(_SIGNATURE + b"".join(_chunk(*part) for part in parts))


def read(file: Path) -> Grey:
    """The picture that `write` kept."""
    data = file.read_bytes()
    columns, rows = struct.unpack(">II", data[16:24])
    length = struct.unpack(">I", data[33:37])[0]
    packed = np.frombuffer(zlib.decompress(data[41 : 41 + length]), dtype=np.uint8)
    packed = packed.reshape(rows, -1)[:, 1:]
    even = np.stack((packed >> 4, packed & 15), axis=2).reshape(rows, -1)
    return even[:, :columns]


def _chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
