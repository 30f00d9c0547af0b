"""What is on the shelf: film, baths and gear, and what is due."""

from __future__ import annotations

import argparse

from wetside.cli.calling import Outcome
from wetside.figures.progress import Progress


def arguments(parser: argparse.ArgumentParser) -> None:
    """`wetside shelf` takes no options of its own."""


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Show the shelf."""
    from wetside.app.shelf import shelf
    from wetside.store.settings import home

    found = shelf(home())
    lines = [f"{r['roll']:<10}{r['stock']:<12}{r['gauge']:<9}{r['status']}" for r in found["rolls"]]
    lines += [
        f"{b['bath']:<22}{b['role']:<12}{b['volume_ml']:>6.0f} mL  {b['age_days']:>4.0f} days  {b['area_m2']:.3f} m²"
        for b in found["baths"]
    ]
    lines += [f"{g['kind']} {g['name']}: {g['say']}" for g in found["gear"]]
    lines += [f"due: {d['what']}: {d['why']}" for d in found["due"]]
    return Outcome(
        found,
        "\n".join(lines)
        or "The shelf is empty. `wetside note roll roll=R01 stock=DAY90 gauge=135` puts a roll on it.",
    )
