"""A stock's card: curve, speed, working exposure index, crossover and filters, or what would help to know them."""

from __future__ import annotations

import argparse

from wetside.cli.calling import Outcome
from wetside.figures.progress import Progress


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `wetside stock`."""
    parser.add_argument(
        "name", metavar="FOLDER|NAME", help="a folder with scans and a stock.json, or a stock of the book"
    )


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Show the card."""
    from wetside.app.sensitometry.stock import stock
    from wetside.store.settings import home

    card = stock(args.name, home(), progress)
    if card["cannot_say"]:
        return Outcome(card, f"cannot say: {card['cannot_say']}\nwould help: {card['would_help']}")
    speed, index = card["speed"], card["working_ei"]
    low, high = index["interval_90"]
    lines = [
        f"{card['stock']}: {card['frames']} frames",
        f"speed {speed['value']:.0f} ({speed['degrees']:.1f}°) ± {speed['spread_stops']:.2f} stop, by {speed['by']}",
        f"working EI {index['rounded'] or round(index['value'])}   90 %: {low:.0f} to {high:.0f}",
        "average gradient r g b  "
        + "  ".join("–" if v is None else f"{v:.3f}" for v in card["average_gradient"].values()),
    ]
    lines += [
        f"under {f['under']}: {f['mired_shift']:+.0f} mired, about {f['costs_stops']:g} stop ({f['source']})"
        for f in card["filters"]
    ]
    return Outcome(card, "\n".join(lines + ([card["would_help"]] if card["would_help"] else [])))
