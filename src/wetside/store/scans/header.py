"""Size, channels and bits of a file, judged before a pixel is read: damage and bombs are refused here."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from wetside.figures.finding import Unusable
from wetside.store.scans.cut_off import cut_off
from wetside.store.scans.first_bytes import dpx_size, exr_size, png_size
from wetside.store.scans.guard import guard
from wetside.store.scans.kinds import kind_of
from wetside.store.scans.quiet import quiet

MOST_PIXELS = 400_000_000
MOST_BYTES = 1_500_000_000
#: A large picture in a file this many times smaller is damage or a bomb: deflate packs at most 1,032 to 1.
LARGE, DENSEST = 200_000_000, 4000
#: Where a library names the file that it could not read, with its place on the disk.
NAMED = re.compile(r'\s*\("[^"]*"\)')


@dataclass(frozen=True, slots=True)
class Header:
    """What a file says of itself, read without its pixels."""

    kind: str
    width: int
    height: int
    channels: int
    bits: int


def header(path: Path) -> Header:
    """Size, channels and bits of a file from its header alone, kept while the file does not change; a bomb is refused here."""
    try:
        found = path.stat()
    except OSError:
        return _header(path)
    return _header_at(path.absolute(), found.st_size, found.st_mtime_ns)


@lru_cache(maxsize=8192)
def _header_at(path: Path, _size: int, _stamp: int) -> Header:
    with quiet():
        return _header(path)


def _header(path: Path) -> Header:
    kind = kind_of(path)
    try:
        found = READ_HEADER.get(kind, _own_header)(path)
    except Unusable:
        raise
    except Exception as slip:
        raise Unusable(
            cut_off(path, kind) or f"damaged, or cut off: {kind} header: {one_line(slip)}", path.name
        ) from None
    _refuse_bomb(path, found)
    return found


def _refuse_bomb(path: Path, found: Header) -> None:
    pixels = found.width * found.height
    size = pixels * max(3, found.channels) * max(1, found.bits // 8)
    if found.width < 1 or found.height < 1:
        raise Unusable(
            f"damaged, or cut off: the header says {found.width} × {found.height} pixels", path.name
        )
    if pixels > MOST_PIXELS or size > MOST_BYTES:
        raise Unusable(
            f"the header says {found.width} × {found.height} × {found.channels}; at most {MOST_PIXELS:,} pixels "
            f"and {MOST_BYTES:,} bytes are read", path.name,
        )  # fmt: skip
    if size > LARGE and size > DENSEST * path.stat().st_size:
        raise Unusable(
            f"the header says {found.width} × {found.height} × {found.channels}, more than so small a file can hold", path.name
        )  # fmt: skip


def _tiff_header(path: Path) -> Header:
    import tifffile

    with tifffile.TiffFile(path) as tiff:
        page = tiff.pages.first
        if page.is_tiled and page.tilewidth * page.tilelength > 4 * max(
            page.imagewidth * page.imagelength, 1 << 20
        ):
            raise Unusable(
                f"the header says tiles of {page.tilewidth} × {page.tilelength} pixels in a smaller picture",
                path.name,
            )
        # A damaged tag can be a tuple or None: int() turns it into one line here, not into a traceback later.
        return Header(
            "tiff",
            *(int(v) for v in (page.imagewidth, page.imagelength, page.samplesperpixel, page.bitspersample)),
        )


def _raw_header(path: Path) -> Header:
    import rawpy

    if missing := cut_off(path, "raw"):  # LibRaw leaves what is missing black
        raise Unusable(missing, path.name)
    with rawpy.imread(str(path)) as raw:
        return Header("raw", raw.sizes.width, raw.sizes.height, 3, 16)


def _oiio_header(path: Path) -> Header:
    import OpenImageIO as oiio

    file = oiio.ImageInput.open(str(path))
    if file is None:
        raise ValueError(oiio.geterror())
    spec = file.spec()
    bits = int(spec.get_int_attribute("oiio:BitsPerSample", spec.format.size() * 8))
    found = Header(kind_of(path), spec.width, spec.height, spec.nchannels, bits)
    file.close()
    return found


def _own_header(path: Path) -> Header:
    kind = kind_of(path)
    return Header(kind, *{"dpx": dpx_size, "exr": exr_size, "png": png_size}[kind](path))


def _guarded_header(path: Path) -> Header:
    found = guard.size(path)
    if found is None:
        raise ValueError("the library cannot read it")
    return Header(kind_of(path), *found)


READ_HEADER: dict[str, Callable[[Path], Header]] = {
    "raw": _raw_header, "tiff": _tiff_header, "jpeg": _oiio_header, "jxl": _guarded_header,
}  # fmt: skip


def one_line(slip: object) -> str:
    return " ".join(NAMED.sub("", str(slip)).split())[:120] or type(slip).__name__
