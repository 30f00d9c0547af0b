"""A mixing sheet: how much of each bath, how hot to pour, what presoak, what to take care of.

Without --tank-g it cannot say the heat. Weigh the empty tank with its reels on a kitchen scale.
"""

from __future__ import annotations

import argparse
from typing import Any

from wetside.cli.calling import Outcome
from wetside.figures.finding import Unusable
from wetside.figures.progress import Progress


def finite(text: str) -> float:
    """A number that is one; nan and inf are not."""
    value = float(text)
    if value != value or abs(value) == float("inf"):
        raise argparse.ArgumentTypeError(f"a number is expected; found {text!r}")
    return value


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--process", required=True, help="ecn-2 or c-41")
    parser.add_argument("--volume", type=finite, required=True, metavar="ML", help="what the tank takes")
    parser.add_argument("--tank-g", type=finite, default=None, metavar="G", help="empty tank with reels")
    parser.add_argument("--tank-c", type=finite, default=None, metavar="C", help="tank before the first pour")
    parser.add_argument("--room-c", type=finite, default=None, metavar="C", help="room (21)")
    parser.add_argument("--material", choices=("plastic", "steel"), default="plastic")


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    from wetside.app.mix import mix

    if args.tank_g is not None and not 0 <= args.tank_g <= 10_000:
        raise Unusable(f"--tank-g is from 0 to 10000 g; found {args.tank_g:g}", "--tank-g")
    sheet = mix(
        args.process,
        args.volume,
        tank_mass=args.tank_g,
        tank_temperature=args.tank_c,
        room=args.room_c,
        material=args.material,
    )
    return Outcome(sheet, "\n".join([*bath_lines(sheet), *heat_lines(sheet["heat"]), *cautions(sheet)]))


def minutes(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"


def bath_lines(sheet: dict[str, Any]) -> list[str]:
    lines = [f"{sheet['process']}, {sheet['volume_ml']:g} mL of each bath"]
    for bath in sheet["baths"]:
        word = "exactly" if bath["kind"] == "aim" else "at least"
        lines.append(
            f"  {bath['name']:<24}{word:>9} {minutes(bath['seconds']):>5}   "
            f"{bath['aim_c']:g} °C ({bath['low_c']:g} to {bath['high_c']:g})   [{bath['source']}]"
        )
        lines += [f"      otherwise: {rival['say']} [{rival['source']}]" for rival in bath["rivals"]]
        lines += [f"      {part['amount']:g} {part['unit']} {part['name']}" for part in bath["formula"]]
    return lines


def heat_lines(heat: dict[str, Any]) -> list[str]:
    if "cannot_say" in heat:
        return ["", f"Heat: cannot say, {heat['cannot_say']}; would help: {heat['would_help']}"]
    soak = heat["presoak"]
    return [
        "",
        f"Heat, tank at {heat['tank_c']:g} °C, room {heat['room_c']:g} °C (figures ±0.3 °C):",
        f"  developer poured at aim without help would stand at {heat['unhelped_start_c']['value']:.1f} °C",
        f"  presoak {soak['changes']} × {soak['c']['value']:.1f} °C, then developer from a bottle of "
        f"{soak['bottle_c']['value']:.1f} °C",
        f"  {heat['say']}",
    ]


def cautions(sheet: dict[str, Any]) -> list[str]:
    return ["", "Take care:", *(f"  {line}" for line in sheet["cautions"])]
