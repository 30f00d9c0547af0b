"""Progress on stderr for a person who watches."""

from __future__ import annotations

from wetside.figures.progress import Progress


def bar() -> Progress:
    """A progress function that draws one line per piece of work, with the time left."""
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bars

    bars = Bars(
        TextColumn("{task.description}"), BarColumn(), TextColumn("{task.completed:.0f}/{task.total:.0f}"),
        TimeRemainingColumn(), console=Console(stderr=True), transient=True,
    )  # fmt: skip
    rows: dict[str, object] = {}

    def show(what: str, done: int, total: int) -> None:
        if what not in rows:
            bars.start()
            rows[what] = bars.add_task(what, total=total)
        bars.update(rows[what], completed=done, total=total)  # type: ignore[arg-type]
        if bars.finished:
            bars.stop()

    return show
