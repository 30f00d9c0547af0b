"""Whether a file's end was ever written, as its own structure tells: a copy that broke off, a scan that was stopped.

Libraries fill what is missing with grey, green or black, or refuse without saying why. Sources: JPEG, ITU-T T.81 B.1 (a file
ends with the marker EOI); PNG, ISO/IEC 15948 (chunks, the last IEND); TIFF 6.0 (offsets and counts of strips and tiles);
DPX, SMPTE ST 268-1 (size of the file in its header); EXR's published layout (table of chunks behind the header); boxes of
ISO/IEC 14496-12, in which JPEG XL and some raw files lie.
"""

from __future__ import annotations

import contextlib
import re
import struct
import zlib
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wetside.figures.scan import Scan
from wetside.store.scans.first_bytes import exr_table, png_size

if TYPE_CHECKING:
    import numpy as np

#: A marker of a JPEG stream within its coded data: neither a stuffed byte nor a restart.
MARKER = re.compile(rb"\xff+([^\x00\xff\xd0-\xd7])")
EOI = b"\xd9"
#: The compression of TIFF 6.0 whose strips decode although they are cut.
JPEG_STRIPS = 7
#: A share of the picture under this is said in words, not as a number.
LITTLE = 0.005
#: Rows of one value at a file's end under this share of all are left alone, unless the row above them breaks off in its middle.
BLANK = 0.05
#: Light of a printing-density code of 0, which no film has.
NO_CODE = 1.5
#: The row above them is whole where it has this share of the light of those before it; of a holder's blurred rim it has less.
WHOLE = 0.25


def cut_off(path: Path, kind: str) -> str | None:
    """In one line, what of a file's picture was never written; None where its end is there or its kind does not tell."""
    try:
        share = MISSING.get(kind, _none)(path)
    except Exception:  # a damaged file of any kind: its library says the rest
        return None
    return None if share is None else said_of_cut(share)


def said_of_cut(share: float) -> str:
    """What is said of a file that lacks a share of its picture; 0 where that is not known."""
    if share < LITTLE:
        return "cut off: the end of the file was never written"
    return f"cut off: the last {min(99, round(100 * share))} % of its picture was never written"


def blank_below(scan: Scan) -> float:
    """Share of a file's rows, the last ones, that hold one value throughout right below a whole row; 0 for a good file.

    A holder's rim is as even, where black is cut off, but fills rows or columns elsewhere too, and no lens lets it begin from one row to
    the next; bare light beyond full scale does, and so do the black and white of coded files: none of these counts.
    """
    import numpy as np

    pixels, last = scan.pixels, scan.pixels[-1, 0]
    low = 0.1 if scan.coding == "gamma" else -1.0
    if (pixels[-1] != last).any():
        return 0.0
    high = np.inf if scan.coding == "log" and last.min() > NO_CODE else 0.9
    if not low * scan.full_scale < float(last.mean()) < high * scan.full_scale:
        return 0.0
    written = np.flatnonzero((pixels != last).any(axis=(1, 2)))
    end = int(written[-1]) if len(written) else 0
    if end < 8:
        return 0.0
    # A row's brighter parts: its rebate, however dense the picture beside it.
    levels = np.percentile(pixels[max(0, end - 50) : end], 90, axis=(1, 2)) - float(last.mean())
    whole = abs(levels[-1]) > WHOLE * abs(np.median(levels)) and np.ptp(pixels[end - 1], axis=0).any()
    share = 1 - (end + 1) / len(pixels)
    same = (pixels[:end] == last).all(axis=2)
    holder = same.all(axis=0).any() or same.all(axis=1).any()
    return share if whole and (share > BLANK or _breaks_off(same, pixels[end], last)) and not holder else 0.0


def _breaks_off(same: np.ndarray, row: np.ndarray, last: np.ndarray) -> bool:
    """Whether a row (w, 3) is blank from its middle on where the rows above it are not; `same` (n, w): what of those is blank."""
    written = (row != last).any(axis=1).nonzero()[0]
    blank, few = len(row) - 1 - int(written[-1]), max(4, len(row) // 50)
    return few <= blank <= len(row) - few and not bool(same[-8:, len(row) - blank :].any())


def _none(path: Path) -> float | None:
    return None


def _of_jpeg(path: Path) -> float | None:
    data = path.read_bytes()
    if _jpeg_ends(data):
        return None
    blank = len(data) - len(data.rstrip(b"\0"))  # a copy that made room for the whole file first
    return blank / len(data) if blank > 64 else _grey_below(path)


def _jpeg_ends(data: bytes) -> bool:
    """Whether a JPEG stream comes to its end marker: segment by segment, coded data passed over."""
    if data.rstrip(b"\0").endswith(b"\xff\xd9"):
        return True
    at = 2
    while (found := MARKER.search(data, at)) is not None:
        at = found.end()
        if found[1] == EOI:
            return True
        at += struct.unpack_from(">H", data, at)[0] if at + 2 <= len(data) else len(data)
    return False


def _grey_below(path: Path) -> float:
    """Share of a cut JPEG's rows that are left in the grey of no data at all; 0 for one that comes whole but coarse first."""
    import numpy as np
    import OpenImageIO as oiio

    image = oiio.ImageBuf(str(path))
    if image.has_error or not image.read(0, 0, True):  # must be asked first: its pixels would end the process
        image.geterror()
        return 0.0
    pixels = np.asarray(image.get_pixels(oiio.UINT8))
    written = np.flatnonzero((pixels != 128).any(axis=(1, 2)))
    return 0.0 if len(written) == 0 else 1 - (int(written[-1]) + 1) / len(pixels)


def _of_png(path: Path) -> float | None:
    data = path.read_bytes()
    at, packed, ended = 8, [], False
    while at + 8 <= len(data) and not ended:
        size, name = struct.unpack_from(">I4s", data, at)
        ended = name == b"IEND"
        if name == b"IDAT":
            packed.append(data[at + 8 : at + 8 + size])
        at += 12 + size if name.isalpha() else len(data)
    if ended:
        return None
    width, height, channels, bits = png_size(path)
    whole = height * (1 + -(-width * channels * bits // 8))
    return 1 - min(1.0, _unpacked(packed, whole) / whole)


def _unpacked(packed: Iterable[bytes], most: int) -> int:
    """Bytes that the beginning of a deflate stream holds, `most` at the most."""
    reader, count = zlib.decompressobj(), 0
    with contextlib.suppress(zlib.error):
        for part in packed:
            while part and count < most:
                count += len(reader.decompress(part, 1 << 20))
                part = reader.unconsumed_tail
    return count


def _of_tiff(path: Path) -> float | None:
    """The largest picture of a TIFF or a raw file shaped like one; 0 where the list of its contents lies past the end."""
    import tifffile

    size = path.stat().st_size
    if _directory(path) >= size:
        return 0.0
    with tifffile.TiffFile(path) as tiff:
        first: Any = tiff.pages[0]
        pages = [first, *(first.pages or ())]
        return past_end(max(pages, key=lambda one: one.imagewidth * one.imagelength), size)


def past_end(page: Any, size: int) -> float | None:
    """Share of a TIFF page's data that would lie past the end of its file of `size` bytes; None where all of it is there."""
    kept = list(zip(page.dataoffsets, page.databytecounts))
    past = sum(min(n, max(0, at + n - size)) for at, n in kept)
    return past / sum(n for _, n in kept) if past else None


def _directory(path: Path) -> int:
    """Where a TIFF file says that its first directory lies."""
    with path.open("rb") as stream:
        head = stream.read(16)
    order = "<" if head[:2] == b"II" else ">"
    big = struct.unpack_from(order + "H", head, 2)[0] == 43
    return int(struct.unpack_from(order + ("Q" if big else "I"), head, 8 if big else 4)[0])


def _of_dpx(path: Path) -> float | None:
    with path.open("rb") as stream:
        head = stream.read(32)
    order = ">" if head.startswith(b"SDPX") else "<"
    start, stated = struct.unpack_from(order + "I", head, 4)[0], struct.unpack_from(order + "I", head, 16)[0]
    size = path.stat().st_size
    if not 32 <= start < stated < 0xFFFFFFFF or size >= stated:
        return None
    return min(1.0, (stated - size) / (stated - start))


def _of_exr(path: Path) -> float | None:
    size, chunks = path.stat().st_size, exr_table(path)
    if not chunks:
        return 0.0
    missing = sum(at == 0 or at >= size for at in chunks)
    if missing:
        return (missing + 0.5) / (len(chunks) + 0.5)
    with path.open("rb") as stream:
        stream.seek(max(chunks) + 4)
        length = struct.unpack("<I", stream.read(4).ljust(4, b"\xff"))[0]
    return 0.5 / len(chunks) if max(chunks) + 8 + length > size else None


def _of_boxes(path: Path) -> float | None:
    size = path.stat().st_size
    for at, length in _boxes(path):
        if at + length > size:
            return min(1.0, (at + length - size) / length)
    return None


def _boxes(path: Path) -> Iterator[tuple[int, int]]:
    """Start and length of each box on the outermost level; one that lasts to the end of the file ends the search."""
    at, size = 0, path.stat().st_size
    with path.open("rb") as stream:
        while at + 8 <= size:
            stream.seek(at)
            head = stream.read(16)
            length = struct.unpack_from(">I", head)[0]
            if length == 1 and len(head) == 16:
                length = struct.unpack_from(">Q", head, 8)[0]
            if length < 8:
                return
            yield at, length
            at += length


def _of_jxl(path: Path) -> float | None:
    with path.open("rb") as stream:
        boxed = stream.read(4) == b"\0\0\0\x0c"
    return _of_boxes(path) if boxed else None


def _of_raw(path: Path) -> float | None:
    with path.open("rb") as stream:
        boxed = stream.read(8)[4:] == b"ftyp"
    return _of_boxes(path) if boxed else _of_tiff(path)


MISSING: dict[str, Callable[[Path], float | None]] = {
    "jpeg": _of_jpeg, "png": _of_png, "tiff": _of_tiff, "raw": _of_raw, "dpx": _of_dpx, "exr": _of_exr, "jxl": _of_jxl,
}  # fmt: skip
