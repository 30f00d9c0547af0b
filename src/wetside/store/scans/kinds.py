"""What kind of image file this is, by its first bytes; nothing here trusts a name."""

from __future__ import annotations

from pathlib import Path

from wetside.figures.finding import Unusable


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
            tags = tiff.pages.first.tags
            return 50706 in tags or tags.valueof(262) == 32803
    except Exception:
        return False
