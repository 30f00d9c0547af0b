"""A mixing sheet: how much of each bath, out of which bottles and taps, how hot to pour, what presoak, what to take care of.

Without a tank's mass (--tank-g, or --tank with a name from the book) it cannot say the heat. Weigh the empty tank
with its reels on a kitchen scale.
"""

from __future__ import annotations

import argparse

from wetside.cli.calling import Outcome
from wetside.figures.progress import Progress
from wetside.figures.unusable import Unusable

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any


def finite(text: str) -> float:
    """A number that is one; nan and inf are not."""
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if value != value or abs(value) == float("inf"):
        raise argparse.ArgumentTypeError(f"a number is expected; found {text!r}")
    return value


def pair(text: str, sign: str, expected: str) -> tuple[str, str]:
    left, there, right = text.partition(sign)
    if not there or not left.strip() or not right.strip():
        raise argparse.ArgumentTypeError(f"expected {expected}; found {text!r}")
    return left.strip(), right.strip()


def named_number(text: str) -> tuple[str, float]:
    name, value = pair(text, "=", "NAME=NUMBER")
    return name, finite(value)


def parts(text: str) -> tuple[float, float]:
    stock, water = pair(text, "+", "STOCK+WATER, as in 1+4")
    return finite(stock), finite(water)


def reel(text: str) -> tuple[str, float | None]:
    gauge, there, length = text.partition(":")
    return gauge, finite(length) if there else None


def arguments(parser: argparse.ArgumentParser) -> None:
    add = parser.add_argument
    add("--process", required=True, help="ecn-2 or c-41")
    add("--volume", type=finite, metavar="ML", help="of each bath; else reckoned from tank and reels")
    add("--tank", metavar="NAME", help="a tank of the book: its volume, mass and own log are used")
    add("--thermometer", metavar="NAME", help="a thermometer of the book: its spread is used")
    add("--tank-ml", type=finite, metavar="ML", help="what the tank takes with all its reels")
    add("--tank-reels", type=int, metavar="N", help="reels of 35 mm that the tank takes (1)")
    add(
        "--reel",
        type=reel,
        action="append",
        default=[],
        metavar="GAUGE[:MM]",
        help="a reel and its film; again for more",
    )
    add("--tank-g", type=finite, metavar="G", help="empty tank with reels")
    add("--tank-c", type=finite, metavar="C", help="tank before the first pour")
    add("--room-c", type=finite, metavar="C", help="room (21)")
    add("--bath-c", type=finite, metavar="C", help="water bath the tank stands in; none: it stands in air")
    add("--material", choices=("plastic", "steel"), default="plastic")
    add("--hot-c", type=finite, metavar="C", help="hot tap")
    add("--cold-c", type=finite, metavar="C", help="cold tap")
    add("--kit-makes", type=finite, metavar="ML", help="what the whole kit makes")
    add(
        "--part",
        type=named_number,
        action="append",
        default=[],
        metavar="NAME=ML",
        help="a concentrate of the kit",
    )
    add("--powder", action="store_true", help="the kit's parts are bags of powder")
    add("--dilute", type=parts, metavar="STOCK+WATER", help="stock to working strength, as in 1+4")
    add("--have", type=named_number, action="append", default=[], metavar="SALT=WATERS", help='the hydrate on the shelf, as in "sodium carbonate=1"')  # fmt: skip


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    from wetside.app.processing.mix import mix
    from wetside.stages.bench.wanted import Kit, Warmth
    from wetside.store.settings import home

    if bool(args.part) != (args.kit_makes is not None):
        raise Unusable("a kit needs both --kit-makes and --part", "--part")
    sheet = mix(
        args.process,
        args.volume,
        home=home() if args.tank or args.thermometer else None,
        tank=args.tank,
        thermometer=args.thermometer,
        tank_volume=args.tank_ml,
        tank_reels=args.tank_reels,
        reels=tuple(args.reel),
        warmth=Warmth(
            mass=args.tank_g,
            tank=args.tank_c,
            room=args.room_c,
            bath=args.bath_c,
            material=args.material,
            hot=args.hot_c,
            cold=args.cold_c,
        ),
        kit=Kit(args.kit_makes, dict(args.part), args.powder) if args.part else None,
        dilution=args.dilute,
        on_shelf=dict(args.have),
    )
    return Outcome(sheet, "\n".join(told(sheet)))


def told(sheet: dict[str, Any]) -> list[str]:
    return [
        *bath_lines(sheet),
        *amount_lines(sheet),
        *heat_lines(sheet["heat"]),
        *("", "Habits and what they may cost:"),
        *(f"  {one['what']}: {one['say']} [{one['source']}]" for one in sheet["risks"]),
        *("", "Take care:"),
        *(f"  {line}" for line in sheet["cautions"]),
    ]


def minutes(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"


def bath_lines(sheet: dict[str, Any]) -> list[str]:
    lines = [f"{sheet['process']}, {sheet['volume_ml']:g} mL of each bath. {sheet['volumes']['say']}"]
    for bath in sheet["baths"]:
        word = "exactly" if bath["kind"] == "aim" else "at least"
        lines.append(
            f"  {bath['name']:<24}{word:>9} {minutes(bath['seconds']):>5}   "
            f"{bath['aim_c']:g} °C ({bath['low_c']:g} to {bath['high_c']:g})   [{bath['source']}]"
        )
        lines += [f"      otherwise: {rival['say']} [{rival['source']}]" for rival in bath["rivals"]]
        lines += [f"      {part['amount']:g} {part['unit']} {part['name']}" for part in bath["formula"]]
    return lines


def amount_lines(sheet: dict[str, Any]) -> list[str]:
    lines: list[str] = []
    kit, stock, water = sheet["kit"], sheet["dilution"], sheet["water"]
    if kit and "cannot_say" in kit:
        lines += ["", f"Kit: cannot say, {kit['cannot_say']}; would help: {kit['would_help']}"]
    elif kit:
        mixed = ", ".join(f"{part['amount']:g} mL {part['name']}" for part in kit["parts"])
        lines += ["", f"Out of the kit: {mixed}, water {kit['water_ml']:g} mL ({kit['left_for']})"]
    if stock:
        lines += ["", f"Working strength: {stock['stock_ml']:g} mL stock and {stock['water_ml']:g} mL water"]
    if water:
        lines += ["", f"From the taps (hot {water['hot_c']:g}, cold {water['cold_c']:g} °C):"]
        lines += [f"  {water_words(row)}" for row in water["rows"]]
    return lines


def water_words(row: dict[str, Any]) -> str:
    if row["say"]:
        return f"{row['c']:g} °C: {row['say']} ({row['for']})"
    return f"{row['c']:g} °C: {row['hot_ml']} mL hot and {row['cold_ml']} mL cold ({row['for']})"


def heat_lines(heat: dict[str, Any]) -> list[str]:
    if "cannot_say" in heat:
        return ["", f"Heat: cannot say, {heat['cannot_say']}; would help: {heat['would_help']}"]
    soak, before, log = heat["presoak"], heat["baths_before"], heat["constants"]
    known = f"from {log['readings']} readings of your own" if log["readings"] else "from its weight alone"
    where = "room" if heat["stands_in"] == "air" else "water bath"
    lines = [
        "",
        f"Heat, tank at {heat['tank_c']:g} °C, {where} {heat['room_c']:g} °C; the tank's constants {known}:",
        f"  developer poured at aim without help would stand at {celsius(heat['unhelped_start_c'])}",
        f"  presoak {soak['changes']} × {celsius(soak['c'])}, then developer from a bottle of {celsius(soak['bottle_c'])}",
    ]
    if not soak["reaches"]:
        lines.append("  even so it stays below its aim: warm the tank in a water bath first")
    if before:
        lines.append(
            f"  prebath and rinse at their aims would let the developer land at {celsius(before['developer_lands_at_c'])}; "
            f"poured at {celsius(before['pour_them_at_c'])} they keep the tank warm"
        )
    return [*lines, f"  {heat['reach']['say']}", f"  {heat['say']}"]


def celsius(figure: dict[str, Any]) -> str:
    return f"{figure['value']:.1f} ± {figure['spread']:.1f} °C"
