"""What goes along with a printed roll: the transform, what was done to it, and one page for the colourist."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from wetside import __version__
from wetside.app.printing.recipe import Recipe
from wetside.app.sensitometry.crosstalk import calibration_sheet
from wetside.stages.positive.transform import clf_text
from wetside.store.scans.sinks import write_text

BESIDE = ("positive.clf", "positive.json", "positive.txt")
WAYS = {False: "the colour library", True: "the same tables by code written for the machine"}
TEN_BIT = "printing density, code 95 at the base above, 500 codes a density; the CLF takes the 16-bit input"


def write_beside(
    out: Path, recipe: Recipe, about: dict[str, Any], even: dict[str, Any], seen: dict[str, Any]
) -> None:
    """`positive.clf`, `positive.json` and `positive.txt`.

    about       what was found with the recipe
    even        the roll's consistency; `seen` each frame's rebate over the roll's base, by file [D]
    """
    sheet = sheet_of(recipe, about, even, seen)
    write_text(out / "positive.clf", clf_text(recipe.group()))
    write_text(out / "positive.json", json.dumps(sheet, indent=2, ensure_ascii=False) + "\n")
    write_text(out / "positive.txt", one_page(sheet, recipe))


def sheet_of(
    recipe: Recipe, about: dict[str, Any], even: dict[str, Any], seen: dict[str, Any]
) -> dict[str, Any]:
    """The `wetside.positive-sheet/1` object."""
    fitted = recipe.table is not None
    return {
        "schema": "wetside.positive-sheet/1",
        "input": "evened negative: transmittance 0–1, code / 65535 in 16-bit TIFF",
        "order": "STEM.cdl (slope on transmittance = printer-light trim in density), then positive.clf",
        "output": "ACES2065-1 (then ADX10)" if recipe.space == "ADX10" else recipe.space,
        "base": dict(zip("rgb", recipe.base)), "door": recipe.door,
        "gradients": dict(zip("rgb", about["gradients"])) if fitted else None, "assumed": about["assumed"],
        "say": about["say"], "calibration": calibration_sheet(about["calibration"]), "map": about["evenness"], "corrections": about["corrections"], "marks_left": about["marks_left"],
        "exposure": about["exposure"], "untold": about.get("untold"),
        "pictures": {name: list(recipe.picture_at(name)) for name in recipe.boxes}, "cuts": {name: list(cut) for name, cut in recipe.cuts.items()}, "turned": recipe.turns, "negative": recipe.negative, "names": recipe.names,
        "notes": {k: v for k, v in recipe.notes.items() if k != "numbers"},
        "trims": {name: list(trim) for name, trim in recipe.trims.items()}, "balance": list(recipe.balance), "shifts": recipe.shifts, "drift": about["drift"],
        "consistency": even, "seen": seen, "versions": {"wetside": __version__, "laws": recipe.laws, "way": WAYS[recipe.written]},
    }  # fmt: skip


def facts(sheet: dict[str, Any]) -> list[tuple[str, str]]:
    """What a colourist wants to know, from `positive.json`, in order."""
    return [
        *((name, say) for name, say in _always(sheet) if say),
        *(("Taken out" if one["made"] else "Left in", f"{one['say']}: {one['why']}") for one in sheet.get("corrections", ())),
        *(("Exposure", say) for say in sheet.get("exposure", ())),
        *((("Cannot be said", f"{untold['cannot_say']}; what would help: {untold['would_help']}"),) if (untold := sheet.get("untold")) else ()),
        *(("Mark that stays", f"{one['file']} at {one['box']['x']}, {one['box']['y']}: {one['say']}") for one in sheet.get("marks_left", ())),
        ("Made by", "; pixels by ".join(sheet["versions"][key] for key in ("laws", "way") if key in sheet["versions"])),
    ]  # fmt: skip


def _always(sheet: dict[str, Any]) -> list[tuple[str, str]]:
    """What is said of every roll; "" where a row does not concern it."""
    map_, calibration = sheet["map"], sheet.get("calibration")
    return [
        ("Film", _film(sheet.get("notes") or {})),
        ("Input", sheet["input"]),
        ("10-bit negatives", TEN_BIT if sheet.get("negative") == "dpx" else ""),
        ("Output", sheet["output"]),
        ("Order", sheet["order"]),
        ("Edges", _edges(sheet)),
        ("Calibration", f"{calibration['say']}; its matrix is in the CLF, in density" if calibration else ""),
        ("Door", f"{sheet['door']}: {sheet['say']}"),
        ("Base r g b", " ".join(f"{sheet['base'][layer]:.3f}" for layer in "rgb") + " D"),
        ("Lights", _lights(sheet)),
        ("Evenness", f"{map_['say']}{'; an additive cast is taken out' if map_['cast'] else ''}"),
        ("It stays uneven", map_["label"]),
        ("Consistency", sheet["consistency"]["say"]),
    ]


def _film(notes: dict[str, Any]) -> str:
    named = (("roll", "roll"), ("stock", "stock"), ("process", "process"), ("ei", "EI"))
    told = [(word, notes[key]) for key, word in named if notes.get(key)]
    return (
        ", ".join(
            f"{word} {value:g}" if isinstance(value, float) else f"{word} {value}" for word, value in told
        )
        or "not noted"
    )


def _edges(sheet: dict[str, Any]) -> str:
    if not sheet.get("cuts"):
        return "the whole scans, rebate included"
    return f"the pictures alone, cut from the scans to one size{_turned(sheet.get('turned') or {})}"


def _lights(sheet: dict[str, Any]) -> str:
    frames = "1 frame" if len(sheet["trims"]) == 1 else f"{len(sheet['trims'])} frames"
    balance = " ".join(f"{value:+.3f}" for value in sheet["balance"])
    return f"{frames} trimmed, balance r g b {balance} D; in the CDLs, 0.301 D a stop"


def _turned(turned: dict[str, float]) -> str:
    if not turned:
        return ""
    many = "1 frame" if len(turned) == 1 else f"{len(turned)} frames"
    most = max(map(abs, turned.values()))
    return f"; {many} that lay askew, by up to {most:.1f}°, set straight before the transform, evened negatives alike"


def one_page(sheet: dict[str, Any], recipe: Recipe) -> str:
    """The page as plain text, 88 columns."""
    import textwrap

    lines = ["FOR THE COLOURIST", ""]
    for name, value in facts(sheet):
        lines += textwrap.wrap(value, 88, initial_indent=f"{name:<18}", subsequent_indent=" " * 18)
    lines += [
        "", "To get the picture from an evened negative, in any general colour-management library:",
        "apply STEM.cdl, then positive.clf, to code / 65535. It is the picture within one code.", "",
    ]  # fmt: skip
    if recipe.trims:
        lines += ["Trimmed frames, density added r g b:"]
        shown = list(recipe.trims.items())[:30]
        lines += [f"  {file:<40} " + "  ".join(f"{value:+.3f}" for value in trim) for file, trim in shown]
        more = len(recipe.trims) - len(shown)
        lines += [f"  and {more} more in positive.json"] if more else []
    return "\n".join(lines) + "\n"
