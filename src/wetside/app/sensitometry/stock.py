"""A stock's card from a folder of grey-scale scans with a `stock.json`, or from the book's stocks."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from wetside.app.reading.read import PatchAt, ReadOptions, read
from wetside.figures.channels import rgb
from wetside.figures.curves import Curves
from wetside.figures.finding import CannotSay, Unusable
from wetside.figures.place import Rectangle
from wetside.figures.progress import Progress, silent
from wetside.laws.sensitometry.speed import grey_exposure
from wetside.stages.stock.card import STOP, Step, curves_for_printing, stock_card

SIDECAR = "stock.json"
#: Of the code that makes a card; a card kept by another is made anew.
VERSION = 1
GREY_DENSITY = 0.745  # reflection density of an 18 % grey
HELP = "a six-step grey scale in three to five frames a stop apart, shown on the glass, or a stock.json beside the scans (`wetside schema stock-input`)"


def stock(name: str, home: Path, progress: Progress = silent) -> dict[str, Any]:
    """The `wetside.stock/1` object for a folder or for a stock of the book; that of the book is kept until a file changes."""
    folder = Path(name)
    if folder.is_dir():
        return _said(_card(folder, progress), folder.name)
    rolls = _rolls_of(home, name)
    scale = scale_of(home, rolls)
    if scale is None:
        return _said(CannotSay(f"no roll of {name} holds a grey scale that was scanned", HELP), name)
    return kept_card(home, scale) or _read_card(home, name, scale, progress)


def stocks(home: Path) -> list[dict[str, Any]]:
    """Every stock of the book: what its line says, its rolls, the roll that holds a grey scale, its card if it was read."""
    from wetside.store.ledger import FILE, Ledger

    if not (home / FILE).exists():
        return []
    with Ledger.open(home) as book:
        noted: dict[str, dict[str, Any]] = {
            str(line.body["stock"]): line.body for line in book.lines(kind="stock")
        }
        loaded = [(str(line.body["roll"]), line.body.get("stock")) for line in book.lines(kind="roll")]
    found = []
    for name, body in noted.items():
        rolls = [roll for roll, stock_ in loaded if stock_ == name]
        scale = scale_of(home, rolls)
        card = None if scale is None else kept_card(home, scale)
        found.append(
            {
                **body,
                "rolls": rolls,
                "scale": scale.name if scale else None,
                "frames": _frames_of(scale),
                "card": card,
            }
        )
    return found


def _frames_of(scale: Path | None) -> int:
    """How many frames hold a grey scale; 0 where its file cannot be read, which reading it says."""
    try:
        given = sidecar(scale) if scale else None
    except Unusable:
        return 0
    return len(given["frames"]) if given else 0


def _rolls_of(home: Path, name: str) -> list[str]:
    found = {one["stock"]: one["rolls"] for one in stocks(home)}
    if not found:
        raise Unusable(f"no folder {name!r}, and no book that holds a stock of that name", name)
    if name not in found:
        raise Unusable(f"no folder and no stock {name!r}; stocks: {', '.join(found)}", name)
    return list(found[name])


def scale_of(home: Path, rolls: Sequence[str]) -> Path | None:
    """The folder of the first roll that says which of its patches have which exposure."""
    folders = (home / "scans" / roll for roll in rolls)
    return next((folder for folder in folders if (folder / SIDECAR).exists()), None)


def kept_card(home: Path, scale: Path) -> dict[str, Any] | None:
    """The card that was read from a folder, while none of its files changed."""
    from wetside.store.summaries import files_mark, kept

    return kept(home, f"stock {scale.name}", [VERSION, files_mark(scale)])


def _read_card(home: Path, name: str, scale: Path, progress: Progress) -> dict[str, Any]:
    from wetside.store.summaries import files_mark, keep

    card = _said(_card(scale, progress), name)
    keep(home, f"stock {scale.name}", [VERSION, files_mark(scale)], card)
    return card


def _said(card: dict[str, Any] | CannotSay, name: str) -> dict[str, Any]:
    if isinstance(card, CannotSay):
        return {
            "schema": "wetside.stock/1", "stock": name, "frames": 0, "curve": None, "average_gradient": None, "speed": None,
            "working_ei": None, "crossover": None, "filters": [], "frame_errors_stops": {},
            "cannot_say": card.reason, "would_help": card.would_help,
        }  # fmt: skip
    return card


def curves_of_folder(folder: Path, matrix: np.ndarray | None = None) -> Curves:
    """The curves for the own door, in the densities to which `matrix` (3, 3) takes those of the camera; Unusable with what would help where there are none."""
    card = _card(folder, silent, matrix)
    if isinstance(card, CannotSay):
        raise Unusable(
            f"the own door needs this stock's curves: {card.reason}; {card.would_help}", str(folder)
        )
    return curves_for_printing(card)


def _card(folder: Path, progress: Progress, matrix: np.ndarray | None = None) -> dict[str, Any] | CannotSay:
    given = sidecar(folder)
    if given is None:
        return CannotSay(f"no {SIDECAR} beside these scans says which patches have which exposure", HELP)
    wanted = [(frame, patch) for frame in given["frames"] for patch in frame["patches"]]
    places = tuple(
        PatchAt(frame["file"], Rectangle(*(int(patch[k]) for k in "xywh"))) for frame, patch in wanted
    )
    reading = read(folder, ReadOptions(patches=places, marks=False), progress)
    if reading.base is None:
        return CannotSay("no unexposed base is seen in these scans", "scans with the rebate in view")
    base = np.array(reading.base.density) if reading.density == "camera" else np.zeros(3)
    files = [frame["file"] for frame in given["frames"]]
    to = np.eye(3) if matrix is None else matrix
    steps = [
        Step(
            files.index(frame["file"]),
            _log_h(given, frame, patch),
            rgb(to @ (np.array(read_.density) - base)),
            float(np.sqrt(to**2 @ np.array(read_.spread) ** 2).max()),
        )
        for (frame, patch), read_ in zip(wanted, reading.patches)
        if read_.density is not None and read_.spread is not None
    ]
    return stock_card(str(given.get("stock", folder.name)), steps, str(given.get("balance", "unknown")))


def _log_h(given: dict[str, Any], frame: dict[str, Any], patch: dict[str, Any]) -> float:
    """Nominal log exposure: the grey's at the index it was metered at, plus stops, minus the patch's own density over grey."""
    if patch.get("log_h") is not None:
        return float(patch["log_h"])
    index = float(frame.get("ei") or given.get("rated_ei") or 100)
    return (
        grey_exposure(index)
        + STOP * float(frame.get("stops", 0))
        - (float(patch["reflection_density"]) - GREY_DENSITY)
    )


def sidecar(folder: Path) -> dict[str, Any] | None:
    """The folder's `stock.json`, judged; None when there is none."""
    file = folder / SIDECAR
    if not file.exists():
        return None
    try:
        given = json.loads(file.read_text(encoding="utf-8"))
        for frame in given["frames"]:
            str(frame["file"])
            for patch in frame["patches"]:
                [int(patch[k]) for k in "xywh"]
                float(patch["log_h"] if patch.get("log_h") is not None else patch["reflection_density"])
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as slip:
        raise Unusable(
            f"expected the shape of `wetside schema stock-input`: {type(slip).__name__} {slip}", str(file)
        ) from None
    return dict(given)
