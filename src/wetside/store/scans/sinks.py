"""Pictures out: written beside their place and renamed, so that no half file is ever seen."""

from __future__ import annotations

import contextlib
import errno
import os
import re
import shutil
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from wetside.figures.finding import Unusable
from wetside.store.scans.told import TOOL, Told, dpx_fields, exr_attributes, into_jpeg, xmp

if TYPE_CHECKING:
    import numpy as np
    import OpenImageIO as oiio

SUFFIX = {"tiff": ".tif", "exr": ".exr", "dpx": ".dpx", "jpeg": ".jpg"}


#: Slips of the store itself: no frame after this one would fare better.
STORE_SLIPS = {
    errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EACCES, errno.EPERM, errno.EFBIG, errno.ENOTDIR, errno.EIO,
}  # fmt: skip
LEAST_ROOM = 1_000_000
#: Chromaticities x, y of red, green, blue and white of ACEScg (S-2014-004), by which a reader knows an EXR's primaries.
AP1 = (0.713, 0.293, 0.165, 0.830, 0.128, 0.044, 0.32168, 0.33767)


class StoreSlip(Unusable):
    """The place written to cannot take more: full, read-only, gone."""


def refuse_existing(
    paths: Iterable[Path], overwrite: bool, own: Callable[[str], bool] = lambda name: False
) -> None:
    """Unusable when one of these files exists and may not be replaced; `own` files are the caller's from before."""
    there = next((path for path in paths if path.exists() and not own(path.name)), None)
    if there is not None and not overwrite:
        raise Unusable("exists already; say --overwrite to replace it", str(there))


def write_text(path: Path, text: str) -> None:
    """A text file, whole or not at all."""
    with written_whole(path) as beside:
        beside.write_text(text, encoding="utf-8")


def write_picture(path: Path, pixels: np.ndarray, kind: str, space: str, told: Told | None = None) -> None:
    """A picture (h, w, 3) float32, 0–1 or scene-linear, or its uint16 codes, as 16-bit TIFF, half EXR, 10-bit DPX or JPEG.

    The name beside keeps its suffix, since writers choose the format by it.
    """
    with written_whole(path) as beside:
        WRITERS[kind](beside, pixels, space, told or Told(space=space))


def codes16(pixels: np.ndarray) -> np.ndarray:
    """uint16 codes of values 0–1, rounded; codes stay as they are."""
    import numpy as np

    if pixels.dtype == np.uint16:
        return pixels

    scaled = pixels * np.float32(65535.0)
    scaled += np.float32(0.5)
    np.clip(scaled, 0, 65535, out=scaled)
    return scaled.astype(np.uint16)


@contextlib.contextmanager
def written_whole(path: Path) -> Iterator[Path]:
    """A name beside the place; renamed when the block ends well, removed when it does not."""
    beside = path.with_name(f".{path.stem}.{os.getpid()}.part{path.suffix}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        yield beside
        beside.replace(path)
    except OSError as slip:
        raise slip_of(slip, path) from None
    finally:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)


def sweep_halves(of: Path) -> None:
    """Remove what processes that were killed left beside this file, half written; those that still run keep theirs."""
    halves = re.compile(
        rf"\.({re.escape(of.stem)}|{re.escape(of.name)})\.(\d{{1,10}})\.part({re.escape(of.suffix)})?"
    )
    with contextlib.suppress(OSError):
        for beside in of.parent.iterdir():
            found = halves.fullmatch(beside.name)
            if found is not None and not _runs(int(found[2])):
                beside.unlink(missing_ok=True)


def _runs(process: int) -> bool:
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True


def slip_of(slip: OSError, path: Path) -> Unusable:
    """What is said of a file that could not be written: a slip of the store, or of this file alone."""
    what = f"could not be written: {slip.strerror or slip}"
    return (StoreSlip if _of_store(slip, path) else Unusable)(what, str(path))


def _of_store(slip: OSError, path: Path) -> bool:
    """True when the slip is the store's, not this file's; libraries that give no number are judged by the room left."""
    if slip.errno is not None:
        return slip.errno in STORE_SLIPS
    if "written" in str(slip):  # numpy's "n requested and m written"
        return True
    try:
        return shutil.disk_usage(path.parent).free < LEAST_ROOM
    except OSError:
        return True


def _tiff(path: Path, pixels: np.ndarray, space: str, told: Told) -> None:
    at = tiff_begun(path, pixels.shape, space, told)
    with path.open("r+b") as stream:
        stream.seek(at)
        codes16(pixels).tofile(stream)


def tiff_begun(path: Path, shape: tuple[int, ...], space: str, told: Told) -> int:
    """Write all of a 16-bit TIFF but its pixels (h, w, 3); the place where those begin, as they lie in memory."""
    import tifffile

    packet = xmp(told)
    extra = [(700, "B", len(packet), packet, True)]
    if space == "sRGB":
        extra.append((34675, "B", len(icc := srgb_profile()), icc, True))
    says = ", ".join(part for part in (told.title(), told.description()) if part)
    place = tifffile.imwrite(
        path, shape=shape, dtype="uint16", photometric="rgb", extratags=extra, software=TOOL, metadata=None,
        description=says.encode("ascii", "replace").decode(), byteorder="<", returnoffset=True,
    )  # fmt: skip
    assert place is not None
    return int(place[0])


def srgb_profile() -> bytes:
    """An ICC profile for sRGB, from Little CMS."""
    import imagecodecs

    profile = bytearray(imagecodecs.cms_profile("srgb"))
    # Bytes 24 to 36 hold when the profile was made, now: a picture would differ from itself printed again.
    profile[24:36] = bytes.fromhex("07d000010001000000000000")
    return bytes(profile)


def _jpeg(path: Path, pixels: np.ndarray, space: str, told: Told) -> None:
    import cv2
    import numpy as np

    if pixels.dtype == np.uint16:
        codes = ((pixels.astype(np.uint32) * 255 + 32767) // 65535).astype(np.uint8)
    else:
        codes = (np.clip(pixels, 0, 1) * 255 + 0.5).astype(np.uint8)
    done, data = cv2.imencode(".jpg", codes[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 93])
    if not done:
        raise OSError(None, "the picture cannot be coded as JPEG")
    path.write_bytes(into_jpeg(data.tobytes(), told, srgb_profile(), pixels.shape[1], pixels.shape[0]))


def _exr(path: Path, pixels: np.ndarray, space: str, told: Told) -> None:
    import OpenImageIO as oiio

    spec = oiio.ImageSpec(pixels.shape[1], pixels.shape[0], 3, oiio.HALF)
    spec.attribute("compression", "none" if space == "ACES2065-1" else "zip")
    spec.attribute(
        "oiio:ColorSpace", {"ACES2065-1": "lin_ap0_scene", "ACEScg": "lin_ap1_scene"}.get(space, space)
    )
    if space == "ACES2065-1":
        spec.attribute("openexr:ACESContainerPolicy", "strict")
    else:
        spec.attribute("chromaticities", "float[8]", AP1)
    spec.attribute("DateTime", "")  # else the library writes now, and a picture printed again is another file
    for name, value in exr_attributes(told).items():
        spec.attribute(name, value)
    write_by_oiio(path, spec, pixels)


def _dpx(path: Path, pixels: np.ndarray, space: str, told: Told) -> None:
    import OpenImageIO as oiio

    spec = oiio.ImageSpec(pixels.shape[1], pixels.shape[0], 3, oiio.UINT16)
    spec.attribute("oiio:BitsPerSample", 10)
    spec.attribute("dpx:Transfer", "ADX" if space == "ADX10" else "Printing density")
    for name, value in dpx_fields(told).items():
        spec.attribute(name, value)
    write_by_oiio(path, spec, pixels)
    with path.open("r+b") as stream:
        # The header's file name (100 bytes) and time (24): the name beside and now would make two printings differ.
        stream.seek(36)
        stream.write(bytes(124))


def write_by_oiio(path: Path, spec: oiio.ImageSpec, pixels: np.ndarray) -> None:
    """Pixels (h, w, 3) by OpenImageIO, in the format that the name ends in; OSError when it cannot."""
    import numpy as np
    import OpenImageIO as oiio

    out = oiio.ImageOutput.create(str(path))
    if out is None or not out.open(str(path), spec) or not out.write_image(np.ascontiguousarray(pixels)):
        raise OSError(None, out.geterror() if out else oiio.geterror())
    out.close()


WRITERS = {"tiff": _tiff, "exr": _exr, "dpx": _dpx, "jpeg": _jpeg}
