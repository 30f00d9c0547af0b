"""What made this: causes of a run or roll of the book, or of evidence in a JSON file (`wetside schema causes-evidence`)."""

from __future__ import annotations

import argparse
import sys

from wetside.cli.calling import Outcome, path
from wetside.figures.progress import Progress
from wetside.figures.unusable import Unusable

ALONE = {("log",): "   named by the log alone", ("company",): "   named by what the bad rolls share"}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `wetside causes`."""
    parser.add_argument("run", nargs="?", metavar="RUN", help="a run or a roll of the book")
    parser.add_argument("--evidence", type=path, metavar="FILE.json")
    parser.add_argument("--against", metavar="RUN", help="what changed since another run or roll")
    parser.add_argument(
        "--experiments", action="store_true", help="how to part what is open: steps, minutes, outcomes"
    )
    parser.add_argument(
        "--outcome",
        metavar="EXPERIMENT=OUTCOME",
        help="keep how an experiment came out as a line, then rank again",
    )
    parser.add_argument(
        "--pairs",
        metavar="D:D,D:D",
        help="densities of a split roll's halves in pairs, suspected bath first; for --outcome NAME",
    )
    parser.add_argument(
        "--scans",
        nargs=2,
        type=path,
        metavar=("FIRST", "SECOND"),
        help="two scans of one frame, before and after a redo or half a turn, or at home and of its twin; for --outcome NAME",
    )


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Rank the causes."""
    from wetside.app.faults.causes import causes_of_file, causes_of_run, experiments
    from wetside.app.faults.compare import compare
    from wetside.store.settings import home

    _refuse_what_does_not_go_together(args)
    if args.evidence:
        found = causes_of_file(args.evidence)
        return Outcome(found, causes_text(found))
    if args.against:
        found = compare(home(), args.run, args.against)
        return Outcome(found, compared_text(found))
    if args.outcome:
        _note_outcome(args)
    if args.experiments:
        plans = experiments(home(), args.run)
        found = {"schema": "wetside.experiments/1", "of": args.run, "experiments": plans}
        return Outcome(found, plans_text(plans))
    found = causes_of_run(home(), args.run)
    return Outcome(found, causes_text(found))


def _refuse_what_does_not_go_together(args: argparse.Namespace) -> None:
    if (args.run is None) == (args.evidence is None):
        raise Unusable("name a RUN of the book, or give --evidence FILE.json", "wetside causes")
    if args.evidence and (args.against or args.experiments or args.outcome):
        raise Unusable("--against, --experiments and --outcome need a RUN of the book", "wetside causes")
    if args.pairs and not args.outcome:
        example = '--outcome "split roll: two fixers"'
        raise Unusable(f"--pairs belongs to --outcome, for example {example}", "--pairs")
    if args.scans and not args.outcome:
        raise Unusable('--scans belongs to --outcome, for example --outcome "re-bleach one frame"', "--scans")


def _note_outcome(args: argparse.Namespace) -> None:
    """Keep how an experiment came out: by two scans, by the densities of two halves, or as the user says."""
    from wetside.app.faults.causes import note_halves, note_outcome
    from wetside.app.faults.outcomes import note_scans
    from wetside.store.settings import home

    if args.scans:
        print(note_scans(home(), args.run, args.outcome.strip(), *args.scans), file=sys.stderr)
    elif args.pairs:
        print(note_halves(home(), args.run, args.outcome.strip(), args.pairs), file=sys.stderr)
    else:
        name, equals, answer = args.outcome.partition("=")
        if not equals:
            raise Unusable(f"expected EXPERIMENT=OUTCOME, found {args.outcome!r}", "--outcome")
        note_outcome(home(), args.run, name.strip(), answer.strip())


def compared_text(found: dict) -> str:
    """What changed, for people."""
    from wetside.stages.causes.ranking.compare import shown

    lines = [found["say"]]
    if found["differences"]:
        lines.append(f"what may move {found['first']} against {found['second']}:")
    for one in found["differences"]:
        size = f"{-one['effect_d']:+.2f} D" if one["sized"] else f"≤ {one['effect_d']:.2f} D"
        lines.append(f"  {size:>9}  {one['what']}: {shown(one['first'])} | {shown(one['second'])}")
    if found["alike"]:
        lines.append(f"alike: {'; '.join(found['alike'])}")
    if found["unknown"]:
        lines.append(f"not told of both: {'; '.join(found['unknown'])}")
    return "\n".join(lines)


def plans_text(plans: list[dict]) -> str:
    """Experiments for people."""
    lines = []
    for one in plans:
        came = f"   came out: {one['came_out']}" if one["came_out"] else ""
        lines.append(f"{one['name']} ({one['minutes']:g} min){came}")
        lines += [f"    {i}. {step}" for i, step in enumerate(one["steps"], 1)]
        if one["caution"]:
            lines.append(f"    {one['caution']}")
        for outcome in one["outcomes"]:
            then = ", ".join(f"{t['cause']} {t['how']}" for t in outcome["then"])
            lines.append(f"    {outcome['answer']}: {outcome['means']}" + (f"   → {then}" if then else ""))
    return "\n".join(lines)


def _share(true: float) -> str:
    return "under 1%" if true < 0.01 else f"{true:.0%}"


def worth_text(worth: dict) -> str:
    """What the words were worth, for people."""
    words = ", ".join(f"{word} {_share(one['true'])}" for word, one in worth["words"].items())
    return f"true on {worth['rolls']} invented rolls by another model of film: {words}; {worth['by_hand']}"


def causes_text(found: dict) -> str:
    """Causes for people: the open ones with what speaks for and against."""
    lines = []
    for cause in [c for c in found["causes"] if c["how"] != "unlikely"] or found["causes"][:1]:
        by = ALONE.get(tuple(cause["by"]), "")
        lines.append(f"{cause['how']}: {cause['cause']}   curable: {cause['curable']}{by}")
        lines += [f"    for      {say}" for say in cause["for"][:5]] + [
            f"    against  {say}" for say in cause["against"][:4]
        ]
    lines += [f"{pair['how']}: {pair['say']}" for pair in found["together"]]
    lines += [f"cannot be told apart: {', '.join(group)}" for group in found["inseparable"]]
    if not found["causes"]:
        lines.append("cannot say: no density, mark, cast or log was given")
    if found["layers"]:
        lines.append(f"layers: {layers_text(found['layers'])}")
    for one in found["findings"]:
        lines.append(f"note: {one['say']}" + (f"; {one['source']}" if one["source"] else ""))
    lines.append(f"worth: {worth_text(found['worth'])}")
    test = found["next_test"]
    took = f" ({test['minutes']:g} min)" if test["minutes"] else ""
    lines.append(f"next: {test['what']}{took}: {test['tells']}")
    return "\n".join(lines)


def layers_text(layers: dict) -> str:
    """What own runs tell of the layers."""
    runs = f"{layers['runs']} own run{'s' * (layers['runs'] > 1)}"
    return (
        f"development moves {layers['order']} (fitted from {runs})"
        if layers["order"]
        else f"{runs} do not part them"
    )
