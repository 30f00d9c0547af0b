"""The open gate and the dark frame that lie beside a roll's scans."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from wetside.figures.finding import Finding, Unusable
from wetside.figures.scan import Scan
from wetside.store.scans.folder import FolderListing
from wetside.store.scans.load import load

#: Share of full scale that no dark scan reaches: a raw file's pedestal lies at 0.03 at the most. Common practice.
DARK = 0.05


def lights(files: FolderListing, named: Path | None) -> tuple[Scan | None, Scan | None, tuple[Finding, ...]]:
    """Open gate and dark frame of a folder; a damaged one of the folder is a finding, a damaged named one Unusable."""
    findings = list[Finding]()

    def or_finding(path: Path | None) -> Scan | None:
        if path is None:
            return None
        try:
            return load(path)
        except Unusable as slip:
            findings.append(
                Finding(
                    "light-unreadable",
                    "error",
                    path.name,
                    slip.what,
                    source="scan it again; until then the roll is read without it",
                )
            )
            return None

    if named is not None and not named.is_file():
        raise Unusable("no such open-gate file", str(named))
    open_gate = load(named) if named else or_finding(files.open_gate)
    if open_gate is not None and open_gate.coding == "gamma":
        findings.append(Finding("light-coded", "warning", open_gate.file, "gamma-coded: no light can be read from it",
                                "a linear 16-bit scan", f"{open_gate.bits} bits, {open_gate.coding}",
                                "scan the light again as the film was: linear, 16 bits, the same exposure"))  # fmt: skip
        open_gate = None
    dark = or_finding(files.dark)
    if dark is not None and (bright := brightest(dark)) > DARK:
        findings.append(Finding("dark-not-dark", "warning", dark.file, "it is no scan of the dark and was left out",
                                f"the light kept out: under {DARK:.0%} of full scale", f"{bright:.0%} of full scale",
                                "scan with the lens covered; if it is a picture, rename it: names that hold dark are kept for the dark"))  # fmt: skip
        dark = None
    return open_gate, dark, tuple(findings)


def brightest(scan: Scan) -> float:
    """What the brightest hundredth of a scan reaches, as a share of full scale."""
    return float(np.percentile(scan.pixels[::3, ::3], 99)) / scan.full_scale
