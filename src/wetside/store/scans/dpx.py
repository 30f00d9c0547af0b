"""DPX files: which law their codes follow, and printing density turned to light."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wetside.figures.finding import Finding
from wetside.figures.scan import Scan

if TYPE_CHECKING:
    import numpy as np

#: What the transfers of a DPX header mean here; those it does not list leave the curve open.
TRANSFERS = {
    "linear": "linear", "logarithmic": "assumed", "unspecifiedvideo": "video", "smpte274m": "video", "itu-r709-4": "video",
    "itu-r601-5systemborg": "video", "itu-r601-5systemm": "video", "ntsccompositevideo": "video", "palcompositevideo": "video",
    "rec709": "video",
}  # fmt: skip


def dpx_scan(
    path: Path, pixels: np.ndarray, spec: Any, extra: dict[str, Any], plain: Callable[..., Scan]
) -> Scan:
    """A DPX file by the transfer that its header states (ST 268-1, table 5A); what a header leaves open is said.

    `plain` makes a scan of linear pixels.
    """
    told = str(extra.get("dpx:Transfer", "")).lower().replace(" ", "")
    bits = int(spec.get_int_attribute("oiio:BitsPerSample", 16))
    curve = "printing density" if told in ("printingdensity", "adx") else TRANSFERS.get(told)
    if curve is None and bits <= 12:
        curve = "assumed"
    if curve in ("printing density", "assumed"):
        scan = _log_dpx(path, pixels, spec, bits)
        return scan if curve != "assumed" else replace(scan, findings=(_assumed(path, told, bits),))
    scan = replace(plain(path, pixels, None, 1, extra), bits=bits)
    if curve != "video":
        return scan
    say = "its header names a video transfer: no density is read from it"
    coded = Finding(
        "transfer-coded",
        "warning",
        path.name,
        say,
        "linear or printing density",
        told,
        "export again as printing density or linear",
    )
    return replace(scan, coding="gamma", findings=(*scan.findings, coded))


def _assumed(path: Path, told: str, bits: int) -> Finding:
    return Finding(
        "curve-assumed", "warning", path.name,
        "its header does not say by which law its codes hold density: taken as printing density, 0.002 D a 10-bit code",
        "printing density or linear in the header", f"{told or 'nothing said'}, {bits} bits", "the scanner's export settings",
    )  # fmt: skip


def _log_dpx(path: Path, pixels: np.ndarray, spec: Any, bits: int) -> Scan:
    """Printing density turned to light: D = (10-bit code − 95) / 500, T = 10^−D."""
    import numpy as np

    full = {"uint8": 255.0, "uint16": 65535.0}.get(str(spec.format), 1.0)
    codes = pixels[..., :3].astype(np.float32) / full * 1023
    light = np.power(10.0, -(codes - 95) / 500).astype(np.float32)
    return Scan(path.name, np.ascontiguousarray(light), 1.0, bits, "log")
