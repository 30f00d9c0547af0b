"""How many planted marks are found, and how much of what is found is a mark: `python -m benchmarks.marks [frames]`."""

from __future__ import annotations

import sys
import time
from collections import defaultdict

import numpy as np

from benchmarks.known_shape import bound, faced
from benchmarks.planted import (
    DRAWN,
    KEPT_OUT,
    SHAPES,
    Planting,
    negative,
    overlap,
    planted,
    planted_otherwise,
)
from wetside.figures.channels import rgb
from wetside.figures.density import DensityFrame
from wetside.figures.place import Rectangle
from wetside.stages.causes.signs.beside_roll import claimed_alone
from wetside.stages.causes.signs.marks import searched
from wetside.stages.causes.signs.perhaps import A_ROLL

Row = tuple[str, str, str]
#: Frames that make a roll where places to look at are counted.
ROLL = 30


def frame_of(density: np.ndarray, base: np.ndarray, px_per_mm: float) -> DensityFrame:
    """A frame that is all picture."""
    height, width = density.shape[:2]
    mask = np.zeros((height, width), np.uint16)
    return DensityFrame("f.tif", 1, density, mask, Rectangle(0, 0, width, height), 1.0, rgb(base), px_per_mm)


def found(box: tuple[int, ...], truth: tuple[int, int, int, int]) -> bool:
    """True when the found box's centre lies in the truth's box and they share a quarter of their union."""
    x, y = box[0] + box[2] / 2, box[1] + box[3] / 2
    inside = truth[0] <= x <= truth[0] + truth[2] and truth[1] <= y <= truth[1] + truth[3]
    return inside and overlap(tuple(box), truth) > 0.25  # type: ignore[arg-type]


def study(
    frames: int,
    seed: int,
    names: tuple[str, ...] = KEPT_OUT,
    plant: Planting = planted,
    reference: bool = False,
) -> dict[str, list[int]]:
    """Counts [found, all] of planted marks by group; "precision" holds [marks, answers]; "ms" the time a frame.
    "places": [marks, places to look at] of rolls of 30 frames, "marks and places" [found or shown by one, all].

    With `reference`, "known shape" counts what a detector would find that knows each mark's shape, "visible" [found, all] of these.
    """
    rng = np.random.default_rng(seed)
    counts: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    seen: list[tuple[float, float, bool]] = []
    places: list[tuple[int, float, set[int]]] = []
    for number in range(frames):
        clean, base, scale = negative(rng, names)
        density, truths = plant(clean, scale, int(rng.integers(0, 7)), rng)
        started = time.process_time()
        marks, perhaps = claimed_alone(searched(frame_of(density, base, scale)))
        counts["ms"][0] += round(1000 * (time.process_time() - started))
        counts["ms"][1] += 1
        right = [any(found(mark.box, truth.box) for truth in truths) for mark in marks]
        counts["precision"][0] += sum(right)
        counts["precision"][1] += len(right)
        if not truths:
            counts["on clean frames"][0] += len(right)
            counts["on clean frames"][1] += 1
        missed = {
            i for i, truth in enumerate(truths) if not any(found(mark.box, truth.box) for mark in marks)
        }
        places += [
            (number, one.chance or 0.0, {i for i in missed if found(one.box, truths[i].box)})
            for one in perhaps
        ]
        for truth in truths:
            hit = any(found(mark.box, truth.box) for mark in marks)
            size = np.abs(truth.delta).max()
            band = "0.05–0.08 D" if size < 0.08 else "0.08–0.15 D" if size < 0.15 else "over 0.15 D"
            touched = int((np.abs(truth.delta) > 0.2 * size).sum())
            layer = ("one layer", "two layers", "all layers")[touched - 1]
            for group in ("recall", truth.shape, band, layer):
                counts[group][0] += hit
                counts[group][1] += 1
            if reference:
                seen.append((*faced(clean, density, truth.box, truth.delta), hit))
    counts["places"], shown = of_rolls(places)
    counts["marks and places"] = [counts["recall"][0] + shown, counts["recall"][1]]
    counts["places a frame"] = [counts["places"][1], frames]
    if seen:
        least = bound([strongest for _, strongest, _ in seen])
        visible = [hit for there, _, hit in seen if there > least]
        counts["known shape"] = [len(visible), len(seen)]
        counts["visible"] = [sum(visible), len(visible)]
    return counts


def of_rolls(places: list[tuple[int, float, set[int]]]) -> tuple[list[int], int]:
    """Of places (frame, worth, missed marks they show) the best twelve of every 30 frames: [marks, all], and marks shown."""
    kept = list[tuple[int, float, set[int]]]()
    for roll in {number // ROLL for number, _, _ in places}:
        own = [one for one in places if one[0] // ROLL == roll]
        kept += sorted(own, key=lambda one: -one[1])[:A_ROLL]
    shown = {(number, truth) for number, _, truths in kept for truth in truths}
    return [sum(bool(truths) for _, _, truths in kept), len(kept)], len(shown)


def rows(frames: int = 200) -> list[Row]:
    """What, measured, goal."""
    counts = study(frames, 40, reference=True)
    goals = {"recall": "≥ 0.85", "precision": "≥ 0.80"}
    table = []
    order = (
        "recall",
        "precision",
        "known shape",
        "visible",
        *SHAPES,
        "0.05–0.08 D",
        "0.08–0.15 D",
        "over 0.15 D",
        "one layer",
        "all layers",
    )
    for name in order:
        hits, total = counts[name]
        table.append((f"marks: {name}", f"{hits / max(1, total):.2f} of {total}", goals.get(name, "")))
    table += place_rows(counts, "marks")
    hits, total = counts["on clean frames"]
    table.append(("marks on a frame without any", f"{hits / max(1, total):.2f} of {total} frames", ""))
    table.append(("marks: CPU a frame", f"{counts['ms'][0] / counts['ms'][1]:.0f} ms", ""))
    other = study(frames, 41, plant=planted_otherwise, reference=True)
    for name in (
        "recall",
        "precision",
        "known shape",
        "visible",
        *DRAWN,
        "one layer",
        "two layers",
        "all layers",
    ):
        hits, total = other[name]
        table.append(
            (f"another generator: {name}", f"{hits / max(1, total):.2f} of {total}", goals.get(name, ""))
        )
    table += place_rows(other, "another generator")
    hits, total = other["on clean frames"]
    table.append(("another generator: on a frame without any", f"{hits / max(1, total):.2f} of {total}", ""))
    return table


def place_rows(counts: dict[str, list[int]], of: str) -> list[Row]:
    """What looking at the places adds, how many of them are marks, and how many there are."""
    names = ("marks and places", "places", "places a frame")
    said = (
        "marks and places to look at: recall",
        "places to look at that are marks",
        "places to look at a frame",
    )
    return [
        (f"{of}: {word}", f"{counts[name][0] / max(1, counts[name][1]):.2f} of {counts[name][1]}", "")
        for name, word in zip(names, said)
    ]


if __name__ == "__main__":
    for what, measured, goal in rows(int(sys.argv[1]) if len(sys.argv) > 1 else 200):
        print(f"| {what} | {measured} | {goal} |")
