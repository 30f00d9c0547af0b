"""Scans as a scanner or camera would write them: 16-bit TIFF, Bayer DNG, 10-bit log DPX, inverted JPEG.

Used to build demo rolls and to make raw files of known truth; pictures printed by this program go through `sinks`.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import tifffile

from wetside.store.scans.sinks import write_by_oiio, written_whole

WHITE = 16383


def write_tiff16(path: Path, pixels: np.ndarray, tag: int = 1) -> None:
    """uint16 (h, w, 3), linear, no profile; with an orientation tag where it is not 1."""
    extra = [(274, "H", 1, tag, True)] if tag != 1 else []
    with written_whole(path) as beside:
        tifffile.imwrite(beside, pixels, photometric="rgb", software=False, extratags=extra)


def write_dng(path: Path, pixels: np.ndarray, tag: int = 1) -> None:
    """A Bayer RGGB raw file of twice the size, 14 bits: each pixel of (h, w, 3) becomes one 2 × 2 cell."""
    height, width = pixels.shape[:2]
    codes = (pixels.astype(np.float64) / 65535 * WHITE).round().astype(np.uint16)
    mosaic = np.empty((2 * height, 2 * width), np.uint16)
    mosaic[0::2, 0::2], mosaic[1::2, 1::2] = codes[..., 0], codes[..., 2]
    mosaic[0::2, 1::2] = mosaic[1::2, 0::2] = codes[..., 1]
    one = (10000, 10000)
    nothing = (0, 10000)
    matrix = [v for row in range(3) for column in range(3) for v in (one if row == column else nothing)]
    tags = [
        (33421, "H", 2, (2, 2), True), (33422, "B", 4, bytes((0, 1, 1, 2)), True), (50706, "B", 4, bytes((1, 4, 0, 0)), True),
        (50707, "B", 4, bytes((1, 1, 0, 0)), True), (50708, "s", 0, "invented copy stand", True), (50714, "H", 1, 0, True),
        (50717, "H", 1, WHITE, True), (50721, "2i", 9, tuple(matrix), True), (50728, "2I", 3, (*one, *one, *one), True),
        (50778, "H", 1, 21, True), (274, "H", 1, tag, True),
    ]  # fmt: skip
    with written_whole(path) as beside:
        tifffile.imwrite(beside, mosaic, photometric=32803, extratags=tags, software=False)


def write_log_dpx(path: Path, pixels: np.ndarray, base: np.ndarray) -> None:
    """A 10-bit printing-density DPX: code 95 at the base, 500 codes a density."""
    import OpenImageIO as oiio

    density = -np.log10(np.maximum(pixels.astype(np.float32) / 65535, 1e-5)) - base.astype(np.float32)
    codes = np.clip((500 * density + 95) / 1023, 0, 1).astype(np.float32)
    spec = oiio.ImageSpec(pixels.shape[1], pixels.shape[0], 3, oiio.UINT16)
    spec.attribute("oiio:BitsPerSample", 10)
    spec.attribute("dpx:Transfer", "Printing density")
    with written_whole(path) as beside:
        write_by_oiio(beside, spec, codes)


def write_inverted_jpeg(path: Path, pixels: np.ndarray, base: np.ndarray) -> None:
    """An 8-bit positive as a laboratory hands it back: inverted, balanced, gamma-coded; no density can be read from it."""
    above = np.maximum(
        -np.log10(np.maximum(pixels.astype(np.float32) / 65535, 1e-5)) - base.astype(np.float32), 0
    )
    high = np.percentile(above.reshape(-1, 3)[::7], 99.0, axis=0).astype(np.float32)
    tones = np.power(np.clip(above / np.maximum(high, 0.1), 0, 1), 1.25)
    done, data = cv2.imencode(
        ".jpg", (tones * 255).astype(np.uint8)[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 92]
    )
    with written_whole(path) as beside:
        beside.write_bytes(data.tobytes() if done else b"")
