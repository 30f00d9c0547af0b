"""One file in, one `Scan` out: routed by content, raw files first, the header judged before a pixel is read.

Whatever is wrong with a file is `Unusable` in one line; what can be worked with is a finding.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wetside.figures.finding import Finding, Unusable
from wetside.figures.scan import Coding, Scan
from wetside.store.scans.claims import exposure_of, straight
from wetside.store.scans.cut_off import JPEG_STRIPS, blank_below, cut_off, past_end, said_of_cut
from wetside.store.scans.dpx import dpx_scan
from wetside.store.scans.guard import guard
from wetside.store.scans.headers import dpx_size, exr_size, png_size
from wetside.store.scans.parts import number_of, whole
from wetside.store.scans.quiet import quiet

if TYPE_CHECKING:
    import numpy as np

#: A float file of which a hundredth lies over this counts in codes of 16 bits.
OVER_FULL = 16.0
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


def sha256(path: Path) -> str:
    """SHA-256 of the file's bytes, streamed; with #2 behind it for the second frame of a file."""
    number = number_of(path)
    with whole(path).open("rb") as stream:
        found = hashlib.file_digest(stream, "sha256").hexdigest()
    return found if number is None else f"{found}#{number}"


def kind_of(path: Path) -> str:
    """ "tiff", "raw", "dpx", "exr", "png", "jpeg" or "jxl", from the first bytes; Unusable for anything else."""
    try:
        with path.open("rb") as stream:
            head = stream.read(16)
    except OSError as slip:
        raise Unusable(f"cannot be opened: {slip.strerror}", path.name) from None
    signs = {
        b"SDPX": "dpx", b"XPDS": "dpx", b"\x76\x2f\x31\x01": "exr", b"\x89PNG": "png",
        b"\xff\xd8\xff": "jpeg", b"\xff\x0a": "jxl", b"\x00\x00\x00\x0cJXL ": "jxl",
    }  # fmt: skip
    for sign, kind in signs.items():
        if head.startswith(sign):
            return kind
    if head[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return "raw" if _is_raw(path) else "tiff"
    if head[4:12] in (b"ftypcrx ",) or head.startswith((b"IIRO", b"IIU\0", b"MMOR", b"IIRS")):
        return "raw"
    raise Unusable("not an image file of a known kind (TIFF, raw, DPX, EXR, PNG, JPEG, JPEG XL)", path.name)


def _is_raw(path: Path) -> bool:
    import tifffile

    try:
        with tifffile.TiffFile(path) as tiff:
            return any(50706 in page.tags or page.tags.valueof(262) == 32803 for page in tiff.pages[:1])
    except Exception:
        return False


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
            cut_off(path, kind) or f"damaged, or cut off: {kind} header: {_line(slip)}", path.name
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
        page = tiff.pages[0]
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
#: Kinds whose library a damaged file can stop, with all of its process: decoded in another process first.
GUARDED = ("dpx", "exr", "png", "jxl")


def _line(slip: object) -> str:
    return " ".join(NAMED.sub("", str(slip)).split())[:120] or type(slip).__name__


def load(path: Path, *, half: bool = True, hashed: bool = True) -> Scan:
    """A file as a `Scan`; raw files at half size by default (2×2 superpixels, no demosaic crosstalk).

    `hashed` False leaves its `sha256` empty: a third of the time of an uncompressed file.
    """
    with quiet():
        scan = _loaded(path, half)
    if blank := blank_below(scan):
        raise Unusable(
            f"broken off: the last {round(100 * blank)} % of its rows hold one value and no picture",
            path.name,
        )
    return replace(scan, sha256=sha256(path)) if hashed else scan


def _loaded(path: Path, half: bool) -> Scan:
    found = _header(path)
    if found.kind in GUARDED and not guard.decodes(path):
        raise Unusable(cut_off(path, found.kind) or f"damaged, or cut off: {found.kind}", path.name)
    if found.kind == "jpeg" and (
        missing := cut_off(path, "jpeg")
    ):  # its library fills what is missing with grey
        raise Unusable(missing, path.name)
    read: dict[str, Callable[[Path, bool], Scan]] = {"raw": _raw, "tiff": _tiff}
    try:
        return read.get(found.kind, _by_oiio)(path, half)
    except Unusable:
        raise
    except Exception as slip:
        what = cut_off(path, found.kind) or f"damaged, or cut off: {found.kind}: {_line(slip)}"
        raise Unusable(what, path.name) from None


def _raw(path: Path, half: bool) -> Scan:
    import rawpy

    with rawpy.imread(str(path)) as raw:
        pixels = raw.postprocess(
            half_size=half, gamma=(1, 1), no_auto_bright=True, output_bps=16, use_camera_wb=False,
            user_wb=[1, 1, 1, 1], output_color=rawpy.ColorSpace.raw, adjust_maximum_thr=0.0, user_flip=0,
        )  # fmt: skip
    if pixels.ndim != 3 or pixels.shape[2] != 3:
        raise Unusable(f"a raw file of three colours was expected, found {pixels.shape[-1]}", path.name)
    return Scan(
        path.name,
        pixels,
        65535.0,
        16,
        "linear",
        shrink=2 if half else 1,
        exposure_s=exposure_of(_exif(path)),
        orientation=orientation_of(path),
    )


def _exif(path: Path) -> dict[str, Any]:
    """EXIF of a TIFF-shaped file, raw ones included; nothing where there is none or it is damaged."""
    import tifffile

    try:
        with tifffile.TiffFile(path) as tiff:
            return tags_of(tiff.pages[0])
    except Exception:
        return {}


def orientation_of(path: Path) -> int:
    """The orientation tag (EXIF 274, 1–8) of a TIFF, raw or JPEG file, by its header; 1 for others and where there is none."""
    stat = path.stat()
    return _orientation(path, stat.st_size, stat.st_mtime_ns)


@lru_cache(maxsize=8192)
def _orientation(path: Path, size: int, stamp: int) -> int:
    with quiet():
        try:
            kind = kind_of(path)
            if kind in ("tiff", "raw"):
                return _tag_in_tiff(path)
            return _tag_in_jpeg(path) if kind == "jpeg" else 1
        except Exception:
            return 1


def _tag_in_tiff(path: Path) -> int:
    import tifffile

    with tifffile.TiffFile(path) as tiff:
        return one_to_eight(tiff.pages[0].tags.valueof(274))


def _tag_in_jpeg(path: Path) -> int:
    import OpenImageIO as oiio

    file = oiio.ImageInput.open(str(path))
    return 1 if file is None else one_to_eight(file.spec().get_int_attribute("Orientation", 1))


def one_to_eight(value: Any) -> int:
    """An orientation tag; 1 where what stands there is none."""
    try:
        return int(value) if 1 <= int(value) <= 8 else 1
    except (TypeError, ValueError):
        return 1


def tags_of(page: Any) -> dict[str, Any]:
    """A page's EXIF block, and the times some writers put beside it."""
    block = page.tags.valueof(34665)
    names = {33434: "ExposureTime", 33437: "FNumber", 34855: "ISOSpeedRatings"}
    beside = {
        name: page.tags.valueof(code) for code, name in names.items() if page.tags.valueof(code) is not None
    }
    return {**beside, **(block if isinstance(block, dict) else {})}


def _tiff(path: Path, half: bool) -> Scan:
    import tifffile

    with tifffile.TiffFile(path) as tiff:
        page = tiff.pages[0]
        pixels = page.asarray()
        if page.compression == JPEG_STRIPS and (missing := past_end(page, path.stat().st_size)):
            raise Unusable(said_of_cut(missing), path.name)
        if page.photometric == 0 and pixels.dtype.kind == "u":  # 0 is white
            pixels = ~pixels
        if page.planarconfig == 2 and pixels.ndim == 3:
            pixels = pixels.transpose(1, 2, 0)
        icc = page.tags.valueof(34675)
        orientation = one_to_eight(page.tags.valueof(274))
        extra = tags_of(page)
    return _scan(path, pixels, icc, orientation, extra)


def _by_oiio(path: Path, half: bool) -> Scan:
    import OpenImageIO as oiio

    image = oiio.ImageBuf(str(path))
    if image.has_error or not image.read(0, 0, True):
        raise ValueError(image.geterror())
    spec = image.spec()
    kind = {"uint8": oiio.UINT8, "uint16": oiio.UINT16}.get(str(spec.format), oiio.FLOAT)
    pixels = image.get_pixels(kind)
    if image.has_error or pixels is None:
        raise ValueError(image.geterror())
    extra = {attribute.name: attribute.value for attribute in spec.extra_attribs}
    if kind_of(path) == "dpx":
        return dpx_scan(path, pixels, spec, extra, _scan)
    icc = extra.get("ICCProfile")
    tag = one_to_eight(extra.get("Orientation")) if kind_of(path) == "jpeg" else 1
    return _scan(path, pixels, None if icc is None else bytes(icc), tag, extra)


def _scan(path: Path, pixels: np.ndarray, icc: bytes | None, orientation: int, extra: dict[str, Any]) -> Scan:
    import numpy as np

    findings: list[Finding] = []
    if pixels.ndim == 2:
        pixels = pixels[..., None]
    if pixels.shape[2] < 3:
        findings.append(Finding("single-channel", "warning", path.name, "one channel: the layers cannot be told apart",
                                "three channels", str(pixels.shape[2]), "scan again in colour"))  # fmt: skip
        pixels = np.repeat(pixels[..., :1], 3, axis=2)
    pixels = np.ascontiguousarray(pixels[..., :3])
    if pixels.dtype.kind == "f":
        pixels = pixels.astype(np.float32, copy=False)
        if not np.isfinite(pixels).all():
            findings.append(Finding("not-finite", "warning", path.name, "holds values that are not numbers",
                                    "finite values", f"{int((~np.isfinite(pixels)).sum())} values", "export the file again"))  # fmt: skip
        full, said = full_scale_of_floats(path, pixels)
        findings += said
    else:
        full = float(np.iinfo(pixels.dtype).max)
    bits = pixels.dtype.itemsize * 8
    if pixels.dtype.kind in "iu" and pixels.dtype not in (np.uint8, np.uint16):
        pixels, full = (pixels / full).astype(np.float32), 1.0
    coding: Coding = "gamma" if pixels.dtype == np.uint8 else "linear"
    if coding == "linear" and icc is not None and straight(icc) is False:
        coding = "gamma"
        findings.append(Finding("profile-coded", "warning", path.name, "its colour profile says that it is gamma-coded: no density is read from it",
                                "a linear scan, its profile a straight line", f"{bits} bits with a curved profile",
                                "scan again with gamma 1 and no colour management"))  # fmt: skip
    if coding == "linear" and icc is not None and straight(icc) is None:
        findings.append(Finding("profile-unreadable", "note", path.name, "its colour profile holds no curve that can be read: taken as linear",
                                "no profile, or one whose curve is a straight line", f"{len(icc)} bytes",
                                "scan again without a profile, if it was not linear"))  # fmt: skip
    return Scan(
        path.name, pixels, full, bits, coding, icc=icc, orientation=orientation,
        exposure_s=exposure_of(extra), findings=tuple(findings),
    )  # fmt: skip


def full_scale_of_floats(path: Path, pixels: np.ndarray) -> tuple[float, list[Finding]]:
    """Full scale of a float file: 1, or 65535 where it holds the whole numbers of a 16-bit one; the latter is said."""
    import numpy as np

    high = float(np.nanpercentile(pixels[::5, ::5], 99, method="lower"))
    if not np.isfinite(high) or high <= OVER_FULL:
        return 1.0, []
    say = "a float file whose values pass 1 by far: taken against 65535"
    return 65535.0, [Finding("float-scale", "note", path.name, say, "0 to 1", f"up to {high:.0f}")]
