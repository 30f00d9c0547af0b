"""One file of a roll as a scan, or what is wrong with it and what helps."""

from __future__ import annotations

from pathlib import Path

from wetside.figures.finding import Finding, Unusable
from wetside.figures.scan import Scan
from wetside.store.scans.load import load

#: What helps where a file, or a place in one, cannot be read.
AGAIN = "copy the file again, or scan this frame again; the other frames are read without it"
LINEAR = "scan again linear, 16 bits, every correction off"


def scan_or_finding(path: Path) -> Scan | Finding:
    """A file's scan; what is wrong with it where it cannot be read."""
    try:
        return load(path)
    except Unusable as slip:
        return Finding("frame-unreadable", "error", path.name, slip.what, source=AGAIN)


def one_channel(scan: Scan) -> bool:
    """Whether a file holds one channel, so that its colours say nothing."""
    return any(finding.id == "single-channel" for finding in scan.findings)
