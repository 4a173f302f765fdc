"""A picture of pixels as a PNG file (PNG specification, third edition; RFC 1950 for its data)."""

import struct
import zlib

import numpy as np
from numpy.typing import NDArray


def png(pixels: NDArray[np.uint8]) -> bytes:
    """The PNG of pixels (height, width, 3) of red, green and blue."""
    height, width, _ = pixels.shape
    before = np.vstack([np.zeros((1, width, 3), np.uint8), pixels[:-1]])
    less = pixels - before  # filter 2, "up": modulo 256, as unsigned bytes wrap
    rows = np.concatenate(
        [np.full((height, 1), 2, np.uint8), less.reshape(height, width * 3)], axis=1
    )
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    parts = ((b"IHDR", header), (b"IDAT", zlib.compress(rows.tobytes(), 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(kind, data) for kind, data in parts)


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
