"""Whether what was taken for a roll's base can be it: clipped film has none, and a frame without the roll's may be another roll's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wetside.figures.finding import Finding
from wetside.figures.flags import Left
from wetside.stages.negative.found.base import base_coloured_in
from wetside.stages.negative.found.picture import Edges
from wetside.stages.negative.found.shown import FilmOfFrame, FilmOfRoll, parts_outside
from wetside.stages.negative.scanner.light import AGREES
from wetside.stages.negative.scanner.working import Working

#: A rebate is clipped when more of it than this lies at the file's white.
MOST_CLIPPED = 0.5
#: Pictures of one roll lie over one another by at least this share of their area, in most pairs of scans.
OVERLAP = 0.4
#: Frames that must show the roll's base before one that does not is worth a word.
FEWEST = 3


def with_sound_base(frames: Sequence[Working], film: FilmOfRoll) -> FilmOfRoll:
    """The film without a base that is clipped to white, and with a word on frames that show none of the roll's."""
    if film.levels is None or film.base is None:
        return film
    share = _clipped_share(frames, film)
    # A base thinner than the light without film is said as that: `light_agrees`.
    if share > MOST_CLIPPED and min(film.base.density) > -AGREES:
        bare = tuple(replace(own, base=None) for own in film.frames)
        return FilmOfRoll(None, None, bare, (base_at_white(share),))
    return replace(film, findings=(*film.findings, *strangers(frames, film)))


def _clipped_share(frames: Sequence[Working], film: FilmOfRoll) -> float:
    """The usual share of a frame's base-coloured rebate that is clipped in some layer, of at most 16 frames."""
    step = -(-len(frames) // 16)
    shares = [
        share
        for i in range(0, len(frames), step)
        if (share := _clipped_in(frames[i], film.frames[i], film.levels_of(i))) is not None
    ]
    return float(np.median(shares)) if shares else 0.0


def _clipped_in(frame: Working, own: FilmOfFrame, levels: np.ndarray | None) -> float | None:
    if own.base is None or levels is None:
        return None
    density, clipped = frame.density, frame.mask & int(Left.CLIPPED) > 0
    parts = parts_outside(clipped.shape, own.edges)  # type: ignore[arg-type]
    seen = [clipped[part][base_coloured_in(density, levels, part)] for part in parts]
    at = np.concatenate(seen) if seen else np.empty(0, bool)
    return float(at.mean()) if len(at) else None


def base_at_white(share: float) -> Finding:
    """What is said of a rebate that lies at the files' white."""
    return Finding(
        "base-clipped", "error", "roll", "the rebate is clipped to white in these scans: the film's base, and every density above it, cannot be told",
        "the rebate under full scale in all layers", f"{100 * share:.0f} % of it at full scale",
        "scan again with less exposure, locked for the whole roll: the rebate at three quarters of full scale",
    )  # fmt: skip


def strangers(frames: Sequence[Working], film: FilmOfRoll) -> tuple[Finding, ...]:
    """One finding for the frames in which the roll's base is not seen, where most frames show it."""
    without = [frame.file for frame, own in zip(frames, film.frames) if own.base is None]
    if not without or len(frames) - len(without) < FEWEST or 2 * len(without) > len(frames):
        return ()
    where = without[0] if len(without) == 1 else f"{len(without)} frames"
    it = "it" if len(without) == 1 else "them"
    return (
        Finding(
            "base-not-seen", "warning", where,
            "no film of the roll's base is seen there: of another roll, scanned by another light, or without its rebate; its picture is supposed where the roll's lie, and it counts from the roll's base",
            "rebate of the roll's base in every frame", ", ".join(without[:6]) + (" …" if len(without) > 6 else ""),
            f"put {it} into a folder of its own if of another roll; else scan {it} again as the others, with the rebate in view",
        ),
    )  # fmt: skip


def lie_alike(film: FilmOfRoll) -> bool:
    """Whether the pictures lie where a holder puts them, over one another: pieces of unlike pictures lie anywhere."""
    boxes = [own.edges for own in film.frames if own.seen]
    if len(boxes) < FEWEST:
        return True
    shared = [_overlap(a, b) for i, a in enumerate(boxes) for b in boxes[i + 1 :][:8]]
    return float(np.median(shared)) >= OVERLAP


def _overlap(a: Edges, b: Edges) -> float:
    """Area that two rectangles share over the smaller one's."""
    wide, tall = min(a[2], b[2]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[1], b[1])
    areas = [(one[2] - one[0]) * (one[3] - one[1]) for one in (a, b)]
    return max(0.0, wide) * max(0.0, tall) / max(1e-9, min(areas))
