"""A roll while it is read: what of each file stays in memory once its pixels are gone."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from wetside.figures.finding import Finding
from wetside.figures.reading import Flare
from wetside.figures.scan import Scan
from wetside.stages.negative.patches import Spot
from wetside.stages.negative.turned import Gradient
from wetside.stages.negative.working import Working
from wetside.store.spool import Spool


@dataclass
class Loaded:
    """The roll at working size, and what was read at full size while each file was in memory."""

    frames: Spool[Working] = field(default_factory=Spool)
    scans: list[Scan] = field(default_factory=list)
    patches: dict[int, tuple[str, Spot]] = field(default_factory=dict)
    blocks: list[np.ndarray] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    noise: list[float | None] = field(default_factory=list)
    sizes: dict[str, tuple[int, int]] = field(default_factory=dict)
    flares: list[Flare | None] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    lit: bool = False
    gradient: Gradient | None = None
    white: float = 65535.0
