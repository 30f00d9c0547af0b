"""What the book knows of the heat: a tank's body, its constants from its own runs, a thermometer's comparisons."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from wetside.book.kinds import ThermometerChecked
from wetside.book.line import Line, Thing
from wetside.figures.figure import Figure
from wetside.figures.finding import Unusable
from wetside.laws.thermal.refit import Constants, Standing, prior_constants, refitted
from wetside.laws.thermal.tank import tank_of
from wetside.laws.thermal.thermometer import correction
from wetside.stages.bench.log import standings
from wetside.stages.bench.run import folded
from wetside.store import clock
from wetside.store.ledger import Ledger

YEAR = 365.25 * 86_400
#: Runs that a refit looks at: after a dozen the constants are known better than a tank stays the same.
ENOUGH = 12


def known_tank(home: Path, name: str) -> dict[str, Any]:
    """What was last noted of the tank; `Unusable` where the book has none of that name."""
    with Ledger.open(home, must_exist=True) as ledger:
        return tank_body(ledger, name)


def tank_body(ledger: Ledger, name: str) -> dict[str, Any]:
    lines = ledger.lines(thing=Thing("tank", name), kind="tank")
    if not lines:
        there = sorted({str(line.body["tank"]) for line in ledger.lines(kind="tank")})
        raise Unusable(f"no tank {name!r} in the book; {', '.join(there) or 'note one first'}", "--tank")
    return dict(lines[-1].body)


def known_thermometer(home: Path, name: str) -> Figure:
    """The correction of a thermometer; `Unusable` where it was never compared."""
    with Ledger.open(home, must_exist=True) as ledger:
        found = thermometer_correction(ledger, name)
    if found is None:
        raise Unusable(f"no comparison of {name!r} with a reference is in the book", "--thermometer")
    return found


def thermometer_correction(ledger: Ledger, name: str | None, at: float | None = None) -> Figure | None:
    """°C to add to its readings at a time; None where it was never compared."""
    if not name:
        return None
    when = clock.wall() if at is None else at
    lines = ledger.lines(thing=Thing("thermometer", name), kind="thermometer")
    return correction([one for line in lines if (one := comparison(line, when))])


def compared(home: Path, name: str, read: float, true: float, spread: float) -> str:
    """Write down what a thermometer read when a better one said what was true, in °C; the id of the line."""
    if not name.strip() or len(name) > 60:
        raise Unusable("name the thermometer, in up to 60 characters", "thermometer")
    for what, value in (("read", read), ("true", true)):
        if not 0 <= value <= 100:
            raise Unusable(f"{what}: a temperature is from 0 to 100 °C; found {value:g}", what)
    if not 0 < spread <= 5:
        raise Unusable(f"the reference is good to 0 to 5 °C; found {spread:g}", "spread")
    line = ThermometerChecked(thermometer=name.strip(), read_c=read, true_c=true, spread_c=spread)
    with Ledger.open(home) as ledger:
        written, _ = ledger.append(line, happened_at=clock.wall())
    return written.id


def comparison(line: Line, at: float) -> tuple[float, float, float, float] | None:
    read, true, spread = (line.body.get(key) for key in ("read_c", "true_c", "spread_c"))
    if not isinstance(read, int | float) or not isinstance(true, int | float):
        return None
    doubt = float(spread) if isinstance(spread, int | float) else 0.1
    return float(read), float(true), doubt, abs(at - line.happened_at) / YEAR


def tank_constants(home: Path, name: str) -> Constants | None:
    """The tank's constants after the latest runs logged in it (`ENOUGH`); None where mass or volume is not known."""
    with Ledger.open(home, must_exist=True) as ledger:
        body = tank_body(ledger, name)
        if not body.get("mass_g") or not body.get("volume_ml"):
            return None
        tank = tank_of(
            float(body["volume_ml"]), float(body["mass_g"]), str(body.get("material") or "plastic")
        )
        runs = ledger.lines(thing=Thing("tank", name), kind="run")
        latest = sorted(runs, key=lambda line: line.happened_at)[-ENOUGH:]
        told = [
            one for line in latest for one in told_by(ledger, str(line.body["run"]), tank.liquid_capacity)
        ]
    return refitted(prior_constants(tank), told)


def told_by(ledger: Ledger, run: str, liquid: float) -> list[Standing]:
    from wetside.app.processing.runs import accepted, kept

    found = kept(ledger, run)
    if found is None:
        return []
    state = folded(found.process, accepted(found.process, found.events))
    room = found.start.get("room_c")
    return standings(found.process, state, liquid, float(room) if isinstance(room, int | float) else None)
