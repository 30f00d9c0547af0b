"""One file in, one `Scan` out: routed by content, raw files first.

Whatever is wrong with a file is `Unusable` in one line; what can be worked with is a finding.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wetside.figures.finding import Finding, Unusable
from wetside.figures.scan import Coding, Scan
from wetside.store.scans.claims import exposure_of, straight
from wetside.store.scans.cut_off import JPEG_STRIPS, blank_below, cut_off, past_end, said_of_cut
from wetside.store.scans.dpx import dpx_scan
from wetside.store.scans.guard import guard
from wetside.store.scans.header import header, one_line
from wetside.store.scans.kinds import kind_of
from wetside.store.scans.quiet import quiet
from wetside.store.scans.stamps import sha256
from wetside.store.scans.tags import exif_of, one_to_eight, orientation_of, tags_of

if TYPE_CHECKING:
    import numpy as np

#: A float file of which a hundredth lies over this counts in codes of 16 bits.
OVER_FULL = 16.0
#: Kinds whose library a damaged file can stop, with all of its process: decoded in another process first.
GUARDED = ("dpx", "exr", "png", "jxl")


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
    found = header(path)
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
        what = cut_off(path, found.kind) or f"damaged, or cut off: {found.kind}: {one_line(slip)}"
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
        exposure_s=exposure_of(exif_of(path)),
        orientation=orientation_of(path),
    )


def _tiff(path: Path, half: bool) -> Scan:
    import tifffile

    with tifffile.TiffFile(path) as tiff:
        page = tiff.pages.first
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
    extra: dict[str, Any] = {attribute.name: attribute.value for attribute in spec.extra_attribs}
    if kind_of(path) == "dpx":
        return dpx_scan(path, pixels, spec, extra, _scan)
    icc = extra.get("ICCProfile")
    tag = one_to_eight(extra.get("Orientation")) if kind_of(path) == "jpeg" else 1
    return _scan(path, pixels, None if icc is None else bytes(icc), tag, extra)


def _scan(path: Path, pixels: np.ndarray, icc: bytes | None, orientation: int, extra: dict[str, Any]) -> Scan:
    pixels, of_channels = _three_channels(path, pixels)
    pixels, full, bits, of_values = _in_plain_numbers(path, pixels)
    coding, of_profile = _coding(path, bits, icc)
    return Scan(
        path.name, pixels, full, bits, coding, icc=icc, orientation=orientation,
        exposure_s=exposure_of(extra), findings=(*of_channels, *of_values, *of_profile),
    )  # fmt: skip


def _three_channels(path: Path, pixels: np.ndarray) -> tuple[np.ndarray, list[Finding]]:
    """Pixels, height × width or with channels behind, as height × width × 3; a single channel is said and repeated."""
    import numpy as np

    layers = 1 if pixels.ndim == 2 else pixels.shape[2]
    if layers >= 3:
        return np.ascontiguousarray(pixels[..., :3]), []
    say = "one channel: the layers cannot be told apart"
    found = Finding(
        "single-channel", "warning", path.name, say, "three channels", str(layers), "scan again in colour"
    )
    return np.repeat(pixels.reshape(*pixels.shape[:2], -1)[..., :1], 3, axis=2), [found]


def _in_plain_numbers(path: Path, pixels: np.ndarray) -> tuple[np.ndarray, float, int, list[Finding]]:
    """Pixels as uint8, uint16 or float32, their full scale, the bits that the file holds, and what is odd about its values."""
    import numpy as np

    if pixels.dtype.kind != "f":
        full = float(np.iinfo(pixels.dtype).max)
        bits = pixels.dtype.itemsize * 8
        if pixels.dtype in (np.uint8, np.uint16):
            return pixels, full, bits, []
        return (pixels / full).astype(np.float32), 1.0, bits, []
    pixels = pixels.astype(np.float32, copy=False)
    finite = np.isfinite(pixels)
    odd = int(finite.size - np.count_nonzero(finite))
    say = "holds values that are not numbers"
    found = [
        Finding(
            "not-finite", "warning", path.name, say, "finite values", f"{odd} values", "export the file again"
        )
    ]
    full, of_scale = full_scale_of_floats(path, pixels)
    return pixels, full, 32, [*(found if odd else []), *of_scale]


def _coding(path: Path, bits: int, icc: bytes | None) -> tuple[Coding, list[Finding]]:
    """ "gamma" for 8 bits and for a curved profile, else "linear", with what the profile leaves open."""
    if bits == 8:
        return "gamma", []
    line = True if icc is None else straight(icc)
    if line:
        return "linear", []
    if line is None:
        say = "its colour profile holds no curve that can be read: taken as linear"
        return "linear", [
            Finding("profile-unreadable", "note", path.name, say, "no profile, or one whose curve is a straight line",
                    f"{len(icc or b'')} bytes", "scan again without a profile, if it was not linear")
        ]  # fmt: skip
    say = "its colour profile says that it is gamma-coded: no density is read from it"
    return "gamma", [
        Finding("profile-coded", "warning", path.name, say, "a linear scan, its profile a straight line",
                f"{bits} bits with a curved profile", "scan again with gamma 1 and no colour management")
    ]  # fmt: skip


def full_scale_of_floats(path: Path, pixels: np.ndarray) -> tuple[float, list[Finding]]:
    """Full scale of a float file: 1, or 65535 where it holds the whole numbers of a 16-bit one; the latter is said."""
    import numpy as np

    high = float(np.nanpercentile(pixels[::5, ::5], 99, method="lower"))
    if not np.isfinite(high) or high <= OVER_FULL:
        return 1.0, []
    say = "a float file whose values pass 1 by far: taken against 65535"
    return 65535.0, [Finding("float-scale", "note", path.name, say, "0 to 1", f"up to {high:.0f}")]
