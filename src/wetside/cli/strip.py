"""Read a strip step by step: a wedge found along it, a grey scale in a frame, or spots; keep a control strip as a line."""

from __future__ import annotations

import argparse

from wetside.cli.calling import Outcome, path
from wetside.cli.read import positive
from wetside.cli.tables import findings_lines
from wetside.figures.progress import Progress
from wetside.figures.unusable import Unusable

TYPE_CHECKING = False
if TYPE_CHECKING:
    from wetside.app.sensitometry.strip import StripOptions
    from wetside.figures.place import Rectangle


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `wetside strip`."""
    parser.add_argument("file", type=path, metavar="FILE", help="a scan of the strip")
    parser.add_argument("--open-gate", type=path, metavar="FILE", help="a scan of the light without film")
    parser.add_argument("--exposure-ratio", type=positive, metavar="N")
    parser.add_argument(
        "--steps", type=int, default=21, metavar="N", help="how many steps the wedge has (21)"
    )
    parser.add_argument("--within", metavar="x,y,w,h", help="look for the steps in this rectangle alone")
    parser.add_argument("--grid", metavar="CxR", help="a grey scale of C × R patches that fills --within")
    parser.add_argument(
        "--spot",
        action="append",
        default=[],
        metavar="x,y,w,h",
        help="read this place; repeat, thinnest first",
    )
    parser.add_argument("--step-log-h", type=positive, metavar="N", help="log exposure from step to step")
    parser.add_argument("--first-log-h", type=float, default=0.0, metavar="N", help="log exposure of step 1")
    parser.add_argument("--log-h", metavar="N,N,…", help="log exposure of each step")
    parser.add_argument(
        "--control-steps", metavar="N,N,N,N", help="the steps that stand for D-min, LD, MD, HD"
    )
    parser.add_argument(
        "--again",
        type=path,
        metavar="FILE",
        help="the same strip scanned again, nothing moved: tells the scanner's noise",
    )
    parser.add_argument("--batch", metavar="NAME", help="a control strip of this batch: keep it as a line")
    parser.add_argument("--run", default="", metavar="RUN", help="the run it went through")
    parser.add_argument("--reference", action="store_true", help="this strip sets the batch's aim")
    parser.add_argument("--stock-card", type=path, metavar="FILE", help="write the points as a stock.json")
    parser.add_argument("--stock", default="", metavar="NAME", help="the stock, for --stock-card")
    parser.add_argument("--rated-ei", type=positive, default=100.0, metavar="N")


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Read the strip."""
    from wetside.app.sensitometry.strip import read_and_note, strip
    from wetside.store.settings import home

    options = options_of(args)
    note = ""
    if args.batch:
        found, line = read_and_note(home(), args.file, options, args.batch, args.run, args.reference)
        note = f"noted: strip of {args.batch} ({line.id})"
    else:
        found = strip(args.file, options)
    if args.stock_card:
        _write_card(args, found)
    return Outcome(found, "\n".join([*table(found), *([note] if note else [])]))


def options_of(args: argparse.Namespace) -> StripOptions:
    """The options as the app takes them; Unusable for a rectangle, a grid or a list that is not one."""
    from wetside.app.sensitometry.strip import StripOptions

    if not 2 <= args.steps <= 60:
        raise Unusable(f"--steps: expected 2 to 60, found {args.steps}", "--steps")
    grid = numbers(args.grid, "--grid", 2, "x") if args.grid else None
    if grid and not all(1 <= n <= 20 for n in grid):
        raise Unusable(f"--grid: expected like 3x2, found {args.grid!r}", "--grid")
    return StripOptions(
        open_gate=args.open_gate, exposure_ratio=args.exposure_ratio, steps=args.steps,
        within=box(args.within, "--within") if args.within else None, grid=(grid[0], grid[1]) if grid else None,
        spots=tuple(box(one, "--spot") for one in args.spot), first_log_h=args.first_log_h, step_log_h=args.step_log_h,
        log_h=decimals(args.log_h), again=args.again, control=numbers(args.control_steps, "--control-steps", 4) if args.control_steps else (),
    )  # fmt: skip


def numbers(text: str, where: str, count: int, between: str = ",") -> tuple[int, ...]:
    """So many whole numbers; Unusable otherwise."""
    try:
        found = tuple(int(part) for part in text.lower().split(between))
    except ValueError:
        found = ()
    if len(found) != count:
        raise Unusable(
            f"{where}: expected {count} whole numbers like {between.join(['3'] * count)}, found {text!r}",
            where,
        )
    return found


def box(text: str, where: str) -> Rectangle:
    """A rectangle from x,y,w,h."""
    from wetside.figures.place import Rectangle

    x, y, w, h = numbers(text, where, 4)
    if x < 0 or y < 0 or w < 1 or h < 1:
        raise Unusable(f"{where}: expected x,y,w,h in whole pixels, found {text!r}", where)
    return Rectangle(x, y, w, h)


def decimals(text: str | None) -> tuple[float, ...]:
    """Numbers with commas between them."""
    try:
        found = tuple(float(part) for part in text.split(",")) if text else ()
    except ValueError:
        found = (float("nan"),)
    if any(v - v != 0 for v in found):
        raise Unusable(f"--log-h: expected numbers like -2.1,-1.8, found {text!r}", "--log-h")
    return found


def _write_card(args: argparse.Namespace, found: dict) -> None:
    import json

    from wetside.app.sensitometry.strip import stock_sidecar

    card = stock_sidecar(found, args.stock or args.file.stem, args.rated_ei, "unknown")
    if args.stock_card.exists():
        raise Unusable("is there already; name another file", str(args.stock_card))
    beside = args.stock_card.with_name(f".{args.stock_card.name}.part")
    try:
        beside.write_text(json.dumps(card, indent=1), encoding="utf-8")
        beside.replace(args.stock_card)
    except OSError as slip:
        raise Unusable(f"could not be written: {slip.strerror}", str(args.stock_card)) from None


def table(found: dict) -> list[str]:
    """The strip as text."""
    if found["cannot_say"] and not found["steps"]:
        return [f"cannot say: {found['cannot_say']}", f"would help: {found['would_help']}"]
    lines = [
        f"{found['file']}: {len(found['steps'])} steps, {found['how']}, density: {found['density']}",
        "step   log H      r      g      b",
    ]
    for s in found["steps"]:
        row = "".join(f"{'–' if s[c] is None else format(s[c], '.3f'):>7}" for c in "rgb")
        spread = max((v for v in s["spread"].values() if v is not None), default=None)
        lines.append(
            f"{s['step']:>4}{'–' if s['log_h'] is None else format(s['log_h'], '.2f'):>8}{row}   ± {'–' if spread is None else format(spread, '.3f')}"
        )
    if found["average_gradient"]:
        lines.append(
            "average gradient r g b  " + "  ".join(f"{v:.3f}" for v in found["average_gradient"].values())
        )
    if found["control"]:
        for name, say in (("dmin", "D-min"), ("ld", "LD"), ("md", "MD"), ("hd", "HD"), ("hd_ld", "HD−LD")):
            lines.append(
                f"{say:<6}"
                + "".join(
                    f"{'–' if v is None else format(v, '.3f'):>8}" for v in found["control"][name].values()
                )
            )
    if found["noise"]:
        ceiling = "  ".join(f"{v:.2f}" for v in found["noise"]["ceiling"].values())
        lines.append(f"densities are known to 0.02 D (100 pixels) up to  {ceiling}")
    if found["cannot_say"]:
        lines.append(f"cannot say: {found['cannot_say']}; would help: {found['would_help']}")
    return lines + findings_lines(found["findings"])
