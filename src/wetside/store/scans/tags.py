"""Tags of a file: its EXIF block and how it wants to be turned; what is missing or damaged counts as not said."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

from wetside.store.scans.kinds import kind_of
from wetside.store.scans.quiet import quiet


def exif_of(path: Path) -> dict[str, Any]:
    """EXIF of a TIFF-shaped file, raw ones included; nothing where there is none or it is damaged."""
    import tifffile

    try:
        with tifffile.TiffFile(path) as tiff:
            return tags_of(tiff.pages.first)
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
        return one_to_eight(tiff.pages.first.tags.valueof(274))


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
