"""Calibrate a light and a scanner from patches of known density, keep the calibration as a line, and watch the light."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from wetside.app.reading.lights import lights
from wetside.app.reading.read import PatchAt, ReadOptions, read
from wetside.book.kinds import Calibrated, LightSeen
from wetside.book.line import Line, Thing
from wetside.figures.channels import RGB, rgb
from wetside.figures.finding import CannotSay, Finding, Unusable
from wetside.figures.place import Rectangle
from wetside.figures.progress import Progress, silent
from wetside.figures.reading import RollReading
from wetside.laws.sensitometry.crosstalk import Crosstalk, crosstalk_of, refusal, single_layers
from wetside.stages.negative.measured.calibration import (
    MOVED,
    Profile,
    calibrated,
    hue_moved,
    hue_said,
    light_level,
)
from wetside.store import clock
from wetside.store.ledger import FILE, Ledger
from wetside.store.scans.folder import listing
from wetside.store.scans.load import load
from wetside.store.scans.stamps import sha256

SIDECAR = "calibration.json"
AIMS = ("status M", "layers")
HELP = "about 24 coloured patches of known status M density, or exposures of one layer at a time, with their open gate"


def calibrate(folder: Path, progress: Progress = silent) -> dict[str, Any]:
    """The `wetside.calibration/1` object of a folder with a `calibration.json`; a wedge alone is refused with the reason."""
    given = sidecar(folder)
    places = tuple(PatchAt(p["file"], Rectangle(*(int(p[k]) for k in "xywh"))) for p in given["patches"])
    reading = read(folder, ReadOptions(patches=places, marks=False), progress)
    if reading.density != "camera":
        raise Unusable(
            f"a calibration needs camera densities, found {reading.density!r}: put the open gate beside the scans",
            str(folder),
        )
    seen = [rgb(r.density) if r.density else None for r in reading.patches]
    found = [f.as_json() for f in reading.findings]
    return fitted(folder, given, seen, reading.base.density if reading.base else None, found)


def fitted(
    folder: Path,
    given: dict[str, Any],
    seen: Sequence[RGB | None],
    base: RGB | None,
    findings: Sequence[dict[str, Any]] = (),
) -> dict[str, Any]:
    """The calibration through patches `given` with what they should be, `seen` at these camera densities [D]."""
    camera, known, rows = _pairs(given, seen, base)
    level, _ = _level(folder)
    common = {"aim": given["aim"], "level": level, "findings": list(findings)}
    reason = refusal(camera) if len(camera) else "no patch could be read"
    if reason is None and given["aim"] == "layers" and len({p["layer"] for p in rows} - {"none"}) < 3:
        reason = "exposures of all three layers, one at a time, are needed"
    if reason is not None:
        return _said(None, [], common, CannotSay(reason, HELP))
    fit = crosstalk_of(camera, known, offset=given["aim"] == "status M")
    return _said(fit, _rows(rows, camera, known, fit), common, None)


def sidecar(folder: Path) -> dict[str, Any]:
    """The folder's `calibration.json`, judged."""
    file = folder / SIDECAR
    if not folder.is_dir():
        raise Unusable("no such folder", str(folder))
    try:
        given = json.loads(file.read_text(encoding="utf-8"))
        aim = given.get("aim", "status M")
        if aim not in AIMS:
            raise ValueError(f'aim is "status M" or "layers", found {aim!r}')
        for patch in given["patches"]:
            str(patch["file"])
            [int(patch[k]) for k in "xywh"]
            if aim == "layers" and patch["layer"] not in ("r", "g", "b", "none"):
                raise ValueError(f"layer is r, g, b or none, found {patch['layer']!r}")
            if aim == "status M" and not all(-1 < float(patch[c]) < 6 for c in "rgb"):
                raise ValueError("a known density lies between −1 and 6")
    except OSError as slip:
        raise Unusable(
            f"cannot be read: {slip.strerror}; it says which patch has which density", str(file)
        ) from None
    except (ValueError, KeyError, TypeError, AttributeError) as slip:
        raise Unusable(
            f"expected the shape of `wetside schema calibration-input`: {type(slip).__name__} {slip}",
            str(file),
        ) from None
    return {**given, "aim": aim}


def _pairs(
    given: dict[str, Any], seen: Sequence[RGB | None], base: RGB | None
) -> tuple[np.ndarray, np.ndarray, list[dict[str, Any]]]:
    """Camera densities (n, 3), what they should be (n, 3), and the patches that could be read."""
    both = [(p, np.array(density)) for p, density in zip(given["patches"], seen) if density is not None]
    rows, camera = [p for p, _ in both], np.array([d for _, d in both]).reshape(-1, 3)
    if given["aim"] == "status M":
        return camera, np.array([[float(p[c]) for c in "rgb"] for p in rows]).reshape(-1, 3), rows
    bare = [d for p, d in both if p["layer"] == "none"]
    zero = np.mean(bare, axis=0) if bare else None if base is None else np.array(base)
    if zero is None:
        raise Unusable(
            'exposures of single layers count from the base: give a patch of it, with layer "none"', SIDECAR
        )
    exposed = [i for i, p in enumerate(rows) if p["layer"] != "none"]
    above, rows = camera[exposed] - zero, [rows[i] for i in exposed]
    return above, single_layers(above, [p["layer"] for p in rows]), rows


def _level(folder: Path) -> tuple[dict[str, float | None] | None, Any]:
    open_gate, _, _ = lights(listing(folder), None)
    return (light_level(open_gate)[0].as_json(), open_gate) if open_gate else (None, None)


def _rows(
    rows: list[dict[str, Any]], camera: np.ndarray, known: np.ndarray, fit: Crosstalk
) -> list[dict[str, Any]]:
    fitted = fit.density(camera)
    return [
        {"file": p["file"], **{k: int(p[k]) for k in "xywh"}, "camera": rgb(c).as_json(), "known": rgb(w).as_json(), "off": rgb(f - w).as_json()}
        for p, c, w, f in zip(rows, camera, known, fitted)
    ]  # fmt: skip


def _said(
    fit: Crosstalk | None, rows: list[dict[str, Any]], common: dict[str, Any], no: CannotSay | None
) -> dict[str, Any]:
    return {"schema": "wetside.calibration/1", **common, "fit": fit_json(fit) if fit else None, "patches": rows,
            "cannot_say": no.reason if no else None, "would_help": no.would_help if no else ""}  # fmt: skip


def fit_json(fit: Crosstalk) -> dict[str, Any]:
    """The fit as JSON; `fit_from` reads it back."""
    return {
        "matrix": fit.matrix.tolist(), "offset": fit.offset.tolist(), "covariance": fit.covariance.tolist(), "residual": fit.residual.tolist(),
        "check": fit.check.tolist(), "condition": fit.condition, "patches": fit.patches, "highest": fit.highest.tolist(),
    }  # fmt: skip


def fit_from(given: Any, where: str) -> Crosstalk:
    """A fit from its JSON; Unusable when it is not one."""
    try:
        arrays = {
            k: np.array(given[k], float)
            for k in ("matrix", "offset", "covariance", "residual", "check", "highest")
        }
        shapes = {"matrix": (3, 3), "covariance": (3, 4, 4)}
        if any(v.shape != shapes.get(k, (3,)) or not np.isfinite(v).all() for k, v in arrays.items()):
            raise ValueError("a table of another shape")
        return Crosstalk(**arrays, condition=float(given["condition"]), patches=int(given["patches"]))
    except (KeyError, TypeError, ValueError) as slip:
        raise Unusable(f"expected the fit of a calibration: {type(slip).__name__} {slip}", where) from None


def keep(home: Path, name: str, found: dict[str, Any], light: str, scanner: str) -> Line:
    """Keep a calibration as a line; Unusable when there is none to keep."""
    if found["fit"] is None:
        raise Unusable(f"not kept: {found['cannot_say']}; would help: {found['would_help']}", name)
    files = tuple(dict.fromkeys(str(p["file"]) for p in found["patches"]))
    body = Calibrated(
        calibration=name,
        light=light,
        scanner=scanner,
        aim=found["aim"],
        fit=found["fit"],
        level=found["level"] or {},
        files=files,
    )
    with Ledger.open(home) as book:
        line, _ = book.append(body, happened_at=clock.wall())
    return line


def profiles(home: Path) -> list[dict[str, Any]]:
    """The book's calibrations, the newest first, one a name."""
    if not (home / FILE).exists():
        return []
    with Ledger.open(home) as book:
        lines = book.lines(kind="calibration")
    found = {str(o.body["calibration"]): {**o.body, "line": o.id, "made_at": o.happened_at} for o in lines}
    return sorted(found.values(), key=lambda one: -one["made_at"])


def profile(home: Path, name: str, aims: Sequence[str] = ("status M",)) -> Profile:
    """A calibration by its name in the book, or from a file that `wetside calibrate --json` gave; Unusable for another aim."""
    if Path(name).is_file():
        try:
            given = json.loads(Path(name).read_text(encoding="utf-8"))
        except (OSError, ValueError) as slip:
            raise Unusable(f"expected the JSON of a calibration: {slip}", name) from None
        body = given if isinstance(given, dict) else {}
        return profile_of(body, Path(name).name, "file", aims)
    there = profiles(home)
    body = next((one for one in there if one["calibration"] == name), {})
    if not body:
        raise Unusable(
            f"no calibration {name!r} in the book; there are: {', '.join(o['calibration'] for o in there) or 'none yet'}",
            "--calibration",
        )
    return profile_of(body, name, str(body["line"]), aims)


def profile_of(body: dict[str, Any], name: str, source: str, aims: Sequence[str] = AIMS) -> Profile:
    """A calibration from its aim, fit and level as a line or a file holds them; Unusable where they are none."""
    aim = body.get("aim")
    if aim not in aims:
        raise Unusable(f"expected a calibration to {' or '.join(aims)}, found one to {aim!r}", name)
    level = body.get("level")
    fit = fit_from(body.get("fit"), name)
    return Profile(name, fit, rgb(level) if level else None, source, str(aim))


def read_in_status_m(
    folder: Path, options: ReadOptions, by: Profile, progress: Progress = silent
) -> RollReading:
    """A folder's reading by a calibration; as it was, with a finding, where it holds no camera densities."""
    reading = read(folder, options, progress)
    open_gate, _, _ = lights(listing(folder), options.open_gate)
    return calibrated(reading, by, light_level(open_gate)[0] if open_gate else None)


def watch(home: Path, file: Path, light: str, scanner: str) -> tuple[dict[str, Any], Line]:
    """Keep what an open gate shows of the light, and say how its hue moved since it was first seen."""
    if not file.is_file():
        raise Unusable("no such file", str(file))
    scan = load(file)
    if scan.coding == "gamma":
        raise Unusable("gamma-coded: no light can be read from it", file.name)
    middle, corners = light_level(scan)
    if min(middle) <= 0 or max(middle) >= 0.999:
        raise Unusable(
            "the light is black or clipped at white; expected an open gate under full scale", file.name
        )
    body = LightSeen(light=light, scanner=scanner, level=dict(zip("rgb", middle)), corners=dict(zip("rgb", corners)),
                     exposure_s=scan.exposure_s, file=file.name, sha256=sha256(file))  # fmt: skip
    with Ledger.open(home) as book:
        line, _ = book.append(body, happened_at=clock.wall())
        seen = [
            o
            for o in book.lines(thing=Thing("light", light), kind="light seen")
            if o.body.get("scanner") == scanner
        ]
    return light_json(light, scanner, seen), line


def lights_seen(home: Path) -> list[dict[str, Any]]:
    """Every light of the book that was seen through an open gate, with each scanner it was seen by (`wetside.light/1`)."""
    if not (home / FILE).exists():
        return []
    with Ledger.open(home) as book:
        lines = book.lines(kind="light seen")
    pairs: dict[tuple[str, str], list[Line]] = {}
    for one in lines:
        pairs.setdefault((str(one.body.get("light")), str(one.body.get("scanner"))), []).append(one)
    return [light_json(light, scanner, seen) for (light, scanner), seen in sorted(pairs.items())]


def light_json(light: str, scanner: str, seen: list[Line]) -> dict[str, Any]:
    """The `wetside.light/1` object: every sight of a light with its hue against the first, and a finding when it moved."""
    first = rgb(seen[0].body["level"])  # type: ignore[arg-type]
    rows: list[dict[str, Any]] = []
    for one in seen:
        red, blue = hue_moved(rgb(one.body["level"]), first)  # type: ignore[arg-type]
        rows.append(
            {
                "line": one.id,
                "happened_at": one.happened_at,
                "file": one.body.get("file"),
                "red_green": red,
                "blue_green": blue,
            }
        )
    last = rows[-1]
    moved = max(abs(last["red_green"]), abs(last["blue_green"])) > MOVED
    finding = Finding("light-moved", "warning", light, "the light has changed its hue since it was first seen: calibrate again",
                      f"within {MOVED} D", hue_said(last["red_green"], last["blue_green"]))  # fmt: skip
    return {
        "schema": "wetside.light/1",
        "light": light,
        "scanner": scanner,
        "seen": rows,
        "findings": [finding.as_json()] if moved else [],
    }
