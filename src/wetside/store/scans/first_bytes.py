"""Sizes that DPX, EXR and PNG files state, read from their first bytes without a library that a damaged one could stop.

DPX: SMPTE ST 268-1, file, image and first element header. EXR: attributes `channels` and `dataWindow` of the first part.
PNG: ISO/IEC 15948, 11.2.2, the image header chunk.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path

MOST_HEADER = 1 << 20
#: Channels by the descriptor of a DPX element.
DESCRIBED = {6: 1, 50: 3, 51: 4, 52: 4}
BITS = {0: 32, 1: 16, 2: 32}
#: Channels by the colour type of a PNG file: grey, true colour, palette, and the first two with transparency.
TYPES = {0: 1, 2: 3, 3: 3, 4: 2, 6: 4}


def png_size(path: Path) -> tuple[int, int, int, int]:
    """Width, height, channels and bits of a PNG file; ValueError where it does not begin with its header."""
    with path.open("rb") as stream:
        head = stream.read(33)
    if len(head) < 33 or head[12:16] != b"IHDR" or head[25] not in TYPES:
        raise ValueError("the file does not begin with its header")
    width, height = struct.unpack_from(">II", head, 16)
    return width, height, TYPES[head[25]], head[24]


def dpx_size(path: Path) -> tuple[int, int, int, int]:
    """Width, height, channels and bits of a DPX file; ValueError where the header is cut short."""
    with path.open("rb") as stream:
        head = stream.read(1024)
    if len(head) < 1024:
        raise ValueError("the header is cut short")
    order = ">" if head.startswith(b"SDPX") else "<"
    width, height = struct.unpack_from(order + "II", head, 772)
    return width, height, DESCRIBED.get(head[800], 3), head[803]


def exr_size(path: Path) -> tuple[int, int, int, int]:
    """Width, height, channels and bits of an EXR file's first part; ValueError where its header does not say."""
    with path.open("rb") as stream:
        head = stream.read(MOST_HEADER)
    said = {name: value for name, value, _ in _attributes(head)}
    window, channels = said.get(b"dataWindow", b""), _kinds(said.get(b"channels", b""))
    if len(window) != 16 or not channels:
        raise ValueError("the header names no data window or no channels")
    left, top, right, bottom = struct.unpack("<4i", window)
    return right - left + 1, bottom - top + 1, len(channels), max(channels)


def exr_table(path: Path) -> list[int]:
    """Where the chunks of an EXR file of one part begin, in its table's order; 0 for those not written, none without a table."""
    with path.open("rb") as stream:
        head = stream.read(MOST_HEADER)
        start = 8 + 1
        for _, _, end in _attributes(head):
            start = end + 1
        stream.seek(start)
        first = struct.unpack("<Q", stream.read(8))[0]
        if first <= start or (first - start) % 8 or head[5] & 0x10 or first - start > MOST_HEADER:
            return []
        table = stream.read(first - start - 8)
    return [first, *(at for (at,) in struct.iter_unpack("<Q", table[: len(table) // 8 * 8]))]


def _attributes(head: bytes) -> Iterator[tuple[bytes, bytes, int]]:
    """Name, value and end of each attribute of an EXR header."""
    at = 8
    while at < len(head) and head[at] != 0:
        name, at = _word(head, at)
        _, at = _word(head, at)
        if at + 4 > len(head):
            return
        size = struct.unpack_from("<i", head, at)[0]
        value, at = head[at + 4 : at + 4 + max(0, size)], at + 4 + size
        if size < 0 or at > len(head):
            return
        yield name, value, at


def _word(head: bytes, at: int) -> tuple[bytes, int]:
    end = head.find(b"\0", at, at + 256)
    if end < 0:
        raise ValueError("a name in the header has no end")
    return head[at:end], end + 1


def _kinds(value: bytes) -> list[int]:
    """Bits of each channel of a channel list."""
    found, at = [], 0
    while at < len(value) and value[at] != 0:
        _, at = _word(value, at)
        if at + 16 > len(value):
            break
        found.append(BITS.get(struct.unpack_from("<i", value, at)[0], 32))
        at += 16
    return found
