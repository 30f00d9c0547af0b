"""The first ten minutes: look at a folder of scans and say where the fault sits and whether it can be cured."""

from __future__ import annotations

import argparse
from pathlib import Path

from wetside.cli.calling import Outcome
from wetside.figures.progress import Progress


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `wetside look`."""
    parser.add_argument("folder", type=Path, metavar="FOLDER")
    parser.add_argument(
        "--answers", type=Path, metavar="FILE.json", help="answers to the questions asked before"
    )
    parser.add_argument("--out", type=Path, metavar="DIR", help="write a contact sheet there")
    parser.add_argument("--overwrite", action="store_true", help="replace an existing contact sheet")


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Look."""
    from wetside.app.look import answers_from, look

    found = look(args.folder, answers_from(args.answers), args.out, progress, overwrite=args.overwrite)
    verdict, test = found["verdict"], found["next_test"]
    lines = [
        f"rung {found['rung']}: {found['reasons'][0]}",
        f"{len(found['frames'])} frames, {len(found['marks'])} marks",
    ]
    lines.append(f"fault sits in: {verdict['where']}   curable: {verdict['curable']}\n    {verdict['say']}")
    lines += [f"? {q['text']}  [{' | '.join(q['choices'])}]  ({q['id']})" for q in found["questions"]]
    lines.append(f"next: {test['what']} ({test['minutes']:g} min): {test['tells']}")
    lines += [f"{f['severity']}: {f['where']}: {f['say']}" for f in found["findings"]]
    return Outcome(found, "\n".join(lines))
