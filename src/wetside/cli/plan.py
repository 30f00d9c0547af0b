"""Home, laboratory or wait: the cheapest plan for a request in JSON (see `wetside schema plan-input`)."""

from __future__ import annotations

import argparse

from wetside.cli.calling import Outcome, path
from wetside.figures.progress import Progress


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `wetside plan`."""
    parser.add_argument("file", type=path, metavar="FILE.json")


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Plan."""
    from wetside.app.planning.plan import asked_in, pays_from, plan

    given = asked_in(args.file)
    found = plan(given, progress)
    lines = [
        f"{a['on']}  {a['do']:<11}{', '.join(a['rolls'])}  {a['with'] or ''}  — {a['why']}"
        for a in found["actions"]
    ]
    proof = (
        "proved cheapest"
        if found["cost"] == found["bound"]
        else f"no plan can cost less than {found['bound']:.2f}"
    )
    lines.append(f"cost {found['cost']:.2f} ({proof})")
    lines += [
        f"{a['say']}: {'cannot serve every roll' if a['cost'] is None else format(a['cost'], '.2f')}"
        for a in found["alternatives"]
    ]
    lines += [f"turns over if {f['assumption']} × {f['to']:g}: {f['then']}" for f in found["flips"]]
    lines += pays_from(given)
    return Outcome(found, "\n".join(lines))
