"""The first ten minutes: look at a folder of scans and say where the fault sits and whether it can be cured."""

from __future__ import annotations

import argparse

from wetside.cli.calling import Outcome, path
from wetside.cli.tables import findings_lines
from wetside.figures.progress import Progress
from wetside.figures.unusable import Unusable

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any

OFFER = "keep it as the first lines of a book: wetside look {folder} --keep R01 --stock NAME --gauge 135"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `wetside look`."""
    parser.add_argument("folder", type=path, metavar="FOLDER")
    parser.add_argument(
        "--answers", type=path, metavar="FILE.json", help="answers to the questions asked before"
    )
    parser.add_argument(
        "--answer",
        action="append",
        default=[],
        metavar="QUESTION=CHOICE",
        help='one answer, or how a test came out, for example "seen on=the negative"; as often as needed',
    )
    parser.add_argument("--out", type=path, metavar="DIR", help="write a contact sheet there")
    parser.add_argument(
        "--keep",
        metavar="ROLL",
        help="keep it in the book: a new roll, or the scans of one that was written down; what was seen",
    )
    parser.add_argument("--stock", metavar="NAME", help="the film, for --keep of a new roll")
    parser.add_argument(
        "--gauge", choices=("16still", "16cine", "110", "135"), help="for --keep of a new roll"
    )
    parser.add_argument("--overwrite", action="store_true", help="replace an existing contact sheet")


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Look."""
    from wetside.app.faults.look import look

    if args.keep:
        _keepable(args)
    given = _answers(args)
    found = look(args.folder, given, args.out, progress, overwrite=args.overwrite)
    verdict, test = found["verdict"], found["next_test"]
    lines = [
        f"rung {found['rung']} of 5: {'; '.join(found['reasons'])}",
        f"{counted(found['frames'], 'frame')}, {counted(found['marks'], 'mark')}",
    ]
    if places := [one for frame in found["frames"] for one in frame["perhaps"]]:
        lines.append(_worth_a_look(places, found))
    lines.append(f"fault sits in: {verdict['where']}   curable: {verdict['curable']}\n    {verdict['say']}")
    lines += [f"? {q['text']}  [{' | '.join(q['choices'])}]  ({q['id']})" for q in found["questions"]]
    if found["questions"]:
        example = found["questions"][0]
        lines.append(f'answer: wetside look {args.folder} --answer "{example["id"]}={example["choices"][0]}"')
    took = f" ({test['minutes']:g} min)" if test["minutes"] else ""
    lines.append(f"next: {test['what']}{took}: {test['tells']}")
    lines += findings_lines(found["findings"])
    lines.append(_kept(args, given) if args.keep else OFFER.format(folder=args.folder))
    return Outcome(found, "\n".join(lines))


def _worth_a_look(places: list[object], found: dict[str, Any]) -> str:
    """How many places may be marks, and in which files."""
    files = [frame["file"] for frame in found["frames"] if frame["perhaps"]]
    some = ", ".join(files[:4]) + (f" and {len(files) - 4} more" if len(files) > 4 else "")
    sheet = "dotted on the contact sheet" if found["contact_sheet"] else "--out DIR shows them dotted"
    return f"{counted(places, 'place')} that may be marks, not counted: look at {some} ({sheet})"


def _answers(args: argparse.Namespace) -> dict[str, Any]:
    """Answers of the file and of the call; those of the call count."""
    from wetside.app.faults.look import answers_from

    pairs = [pair.partition("=") for pair in args.answer]
    for name, equals, _ in pairs:
        if not equals:
            raise Unusable(f"expected QUESTION=CHOICE, found {name!r}", "--answer")
    return {**(answers_from(args.answers) or {}), **{name.strip(): said.strip() for name, _, said in pairs}}


def _keepable(args: argparse.Namespace) -> None:
    """Unusable before anything is looked at where the roll cannot be kept."""
    from wetside.app.faults.first_lines import is_new
    from wetside.store.settings import home

    told = bool(args.stock and args.gauge)
    if is_new(home(), args.keep, args.stock or "?", args.gauge or "135") and not told:
        raise Unusable("a new roll is kept with its --stock and its --gauge", "--keep")


def _kept(args: argparse.Namespace, given: dict[str, Any]) -> str:
    from wetside.app.faults.first_lines import keep_look
    from wetside.store.settings import home

    count = keep_look(home(), args.folder, args.keep, args.stock or "", args.gauge or "", given)
    return f"kept: {count} lines of {args.keep} in the book at {home()}; on: wetside causes {args.keep}"


def counted(things: list[object], word: str) -> str:
    """So many of them, in words."""
    return f"{len(things)} {word}{'' if len(things) == 1 else 's'}"
