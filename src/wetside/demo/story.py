"""The story: nine weeks of tests before a short film on a ferry line. Ten rolls, four runs, one kit. All invented."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from wetside.book.kinds import (
    BathMixed,
    Body,
    Correction,
    Exposed,
    GearNoted,
    KitBought,
    Measured,
    Note,
    ParcelMoved,
    ReelOwned,
    RollLoaded,
    RunEvent,
    RunStarted,
    StockNoted,
    StripBatch,
    StripRead,
    TankOwned,
    ThermometerChecked,
)  # fmt: skip
from wetside.demo.film import Faults, Scanner, Spot, Stock
from wetside.demo.pours import taps
from wetside.demo.roll import FIRST_MM, Roll, Shot
from wetside.laws.reel.gauges import GAUGES
from wetside.laws.reel.spiral import TURN, length_to_angle

BEGAN = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
DAY90 = Stock("DAY90", 90)
TUN450 = Stock("TUN450", 450, (0.24, 0.60, 0.88), (0.45, 0.54, 0.53), tungsten=True)
TUN200X = Stock("TUN200X", 200, (0.26, 0.62, 0.95), (0.45, 0.52, 0.52), tungsten=True)
COLD = Faults(gain=(0.88, 0.90, 0.86))
SILVER = Faults(silver=0.17, fog=(0.02, 0.02, 0.02))
REEL = ("A", 20.0, 2.85)


def photos(first: int, count: int) -> tuple[Shot, ...]:
    """A run of photographs."""
    return tuple(Shot(f"photo {first + i}") for i in range(count))


def greys(stops: tuple[float, ...], index: float) -> tuple[Shot, ...]:
    """The grey scale at several exposures."""
    return tuple(Shot("grey scale", s, index) for s in stops)


def touching_spots(seed: int) -> tuple[Spot, ...]:
    """Two turns touching over a stretch: pairs one turn apart, bare film in sharp patches."""
    rng = np.random.default_rng(seed)
    _, core, pitch = REEL
    found = []
    for turn in (1, 2, 3, 4):
        for angle in (2.2, 2.2 + TURN):
            place = float(length_to_angle(angle + TURN * turn + rng.normal(0, 0.05), core, pitch))
            if place > FIRST_MM:
                found.append(Spot(place, float(rng.uniform(0.25, 0.7)), 1.3, 0.9, bare=True))
    return tuple(found)


def rolls() -> tuple[Roll, ...]:
    """The ten rolls with their planted truths."""
    low = Faults(thin_edge=0.22)
    return (
        Roll("R01", DAY90, "135", (*photos(0, 7), *greys((-1, 0, 1), 90)), low, note="tank filled too low"),
        Roll("R02", DAY90, "135", photos(2, 12), low, touching_spots(4), note="tank filled too low; two turns touching"),
        Roll("R03", DAY90, "110", photos(1, 6), SILVER, note="tired bleach: retained silver"),
        Roll("R04", TUN450, "16still", photos(3, 6), Faults(gain=(1.14, 1.12, 1.16), speed_stops=0.3), note="push with a late drain"),
        Roll("R05", TUN450, "135", photos(0, 6), Faults(silver=0.17, fog=(0.02, 0.02, 0.02), light=(0.57, 1.0, 2.0)), files="dng",
             note="tired bleach; tungsten stock in daylight, no filter"),
        Roll("R06", DAY90, "16cine", photos(4, 8), COLD, files="dpx", note="cold tank"),
        Roll("R07", TUN200X, "135", (*photos(1, 5), *greys((-1, 0, 1, 2), 200)), Faults(gain=(0.90, 0.92, 0.88), speed_stops=-1.32, fog=(0.05, 0.07, 0.12)),
             note="expired stock, true EI 80; cold tank"),
        Roll("R08", DAY90, "135", photos(5, 6), files="jpeg", note="laboratory reference, delivered as inverted JPEG"),
        Roll("R09", DAY90, "135", (*photos(0, 4), *greys((-1, 0, 1), 90), Shot("chart")), note="laboratory reference, scanned here"),
        Roll("R10", DAY90, "135", photos(0, 6), scanner=Scanner(exposure=(1.0, 0.86, 0.95, 0.78, 1.0, 0.9)), note="frozen twin of R01; strip auto-exposed"),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Told:
    """A line of the story before it is noted: id, seconds since 1970, body."""

    id: str
    at: float
    body: Body


#: Notes a line: the day of the story and its body in, its id out.
Tell = Callable[[float, Body], str]


def told() -> list[Told]:
    """The book's lines of the story, scans aside."""
    lines: list[Told] = []

    def tell(day: float, body: Body) -> str:
        name = f"demo-{len(lines) + 1:03d}"
        lines.append(Told(name, (BEGAN + timedelta(days=day)).timestamp(), body))
        return name

    _things(tell)
    _exposures(tell)
    _first_runs(tell)
    _later_runs(tell)
    tell(
        62,
        Note(
            text="Ferry shoot in three weeks. One stock only: DAY90, if the next tank behaves.",
            about=("stock:DAY90",),
        ),
    )
    strips: list[Told] = []

    def tell_strip(day: float, body: Body) -> str:
        name = f"demo-strip-{len(strips) + 1:02d}"
        strips.append(Told(name, (BEGAN + timedelta(days=day)).timestamp(), body))
        return name

    _strips(tell_strip)
    began = BEGAN.timestamp()
    poured = [Told(f"demo-tap-{n:03d}", began + after, body) for n, (after, body) in enumerate(taps(), 1)]
    return lines + strips + poured


#: Gear of the story: kind, name, what is noted of it.
GEAR = (
    ("camera", "half-frame still", "135"),
    ("camera", "pocket 110", "110"),
    ("camera", "spring-wound cine", "16 mm"),
    ("light", "tablet under opal", "hue drifts from left to right"),
    ("scanner", "copy stand", "macro lens, f/8"),
    ("laboratory", "Harbour Lab", "takes 135 only"),
)


def _things(tell: Tell) -> None:
    tell(
        0,
        StockNoted(
            stock="DAY90", rated_ei=90, balance="daylight", backing="rem-jet", note="short ends from a swap"
        ),
    )
    tell(0, StockNoted(stock="TUN450", rated_ei=450, balance="tungsten", backing="rem-jet"))
    tell(
        0,
        StockNoted(
            stock="TUN200X",
            rated_ei=200,
            balance="tungsten",
            backing="rem-jet",
            expires_on="2015-06-01",
            note="found in a fridge",
        ),
    )
    tell(0, KitBought(kit="K1", process="ecn-2", price=45.0, makes_ml=1000.0, area_mm2=500_000.0))
    tell(0, TankOwned(tank="two-reel tank", volume_ml=600.0, mass_g=350.0, material="plastic", reels=2))
    wrong = tell(
        0, ReelOwned(reel="A", gauge="135", inner_radius_mm=17.0, pitch_mm=2.85, note="measured in a hurry")
    )
    right = tell(
        0.1,
        ReelOwned(
            reel="A", gauge="135", inner_radius_mm=20.0, pitch_mm=2.85, note="measured with the caliper"
        ),
    )
    tell(0.1, Correction(strikes=wrong, reason="read the caliper at the flange", instead=right))
    tell(0, ReelOwned(reel="B", gauge="16still", inner_radius_mm=9.5, pitch_mm=2.3, material="steel"))
    tell(0, ThermometerChecked(thermometer="kitchen probe", read_c=40.6, true_c=41.0, spread_c=0.1))
    for kind, name, say in GEAR:
        tell(0, GearNoted(gear_kind=kind, name=name, note=say))
    for role, volume in (
        ("prebath", 1000.0),
        ("developer", 1000.0),
        ("stop", 1000.0),
        ("bleach", 1000.0),
        ("fixer", 1000.0),
    ):
        tell(6, BathMixed(bath=f"{role} 1", role=role, volume_ml=volume, kit="K1"))


def _exposures(tell: Tell) -> None:
    cameras = {
        "135": "half-frame still",
        "110": "pocket 110",
        "16still": "half-frame still",
        "16cine": "spring-wound cine",
    }
    for i, roll in enumerate(rolls()):
        gauge = GAUGES[roll.gauge]
        length = len(roll.shots) * gauge.frame_pitch_mm + 160
        tell(1 + i * 0.5, RollLoaded(roll=roll.name, stock=roll.stock.name, gauge=roll.gauge, length_mm=round(length), camera=cameras[roll.gauge],
                                     twin_of="R01" if roll.name == "R10" else None))  # fmt: skip
        for first, last, subject in _stretches(roll):
            light = "daylight" if roll.name != "R04" else "tungsten"
            tell(
                3 + i * 4.5,
                Exposed(
                    roll=roll.name,
                    first_frame=first,
                    last_frame=last,
                    ei=roll.stock.ei,
                    light=light,
                    subject=subject,
                    camera=cameras[roll.gauge],
                ),
            )


def _stretches(roll: Roll) -> list[tuple[int, int, str]]:
    greys_ = [i for i, shot in enumerate(roll.shots, 1) if shot.what == "grey scale"]
    last = len(roll.shots) if not greys_ else greys_[0] - 1
    return [(1, last, "pier and deck"), *([(greys_[0], greys_[-1], "grey scale")] if greys_ else [])]


def _run(
    tell: Tell,
    day: float,
    name: str,
    rolls_: tuple[tuple[str, str], ...],
    baths: dict[str, str],
    celsius: float,
    note: str,
) -> None:
    entries = tuple({"roll": roll, "reel": reel, "core": "head"} for roll, reel in rolls_)
    tell(
        day,
        RunStarted(
            run=name,
            process="ecn-2",
            tank="two-reel tank",
            thermometer="kitchen probe",
            rolls=entries,
            baths=baths,
            room_c=20.5,
            note=note,
        ),
    )
    tell(
        day + 0.004, RunEvent(run=name, event="temperature", fields={"celsius": celsius, "step": "developer"})
    )


def _baths(developer: int, bleach: int) -> dict[str, str]:
    return {
        "prebath": "prebath 1",
        "developer": f"developer {developer}",
        "stop": "stop 1",
        "bleach": f"bleach {bleach}",
        "fixer": "fixer 1",
    }


def _first_runs(tell: Tell) -> None:
    _run(tell, 20, "run 1", (("R01", "A"), ("R02", "B")), _baths(1, 1), 41.0, "first tank of the kit")
    tell(
        20.02,
        RunEvent(
            run="run 1",
            event="deviation",
            fields={"what": "filled short", "note": "about 60 mL short: the measure was misread"},
        ),
    )
    _run(
        tell,
        24,
        "run 2",
        (("R03", "A"), ("R05", "A")),
        _baths(1, 1),
        41.1,
        "same bleach, brown and slow by now",
    )
    tell(24.1, RunEvent(run="run 2", event="note", fields={"text": "bleach looked green-brown"}))


def _later_runs(tell: Tell) -> None:
    tell(38, BathMixed(bath="bleach 2", role="bleach", volume_ml=1000.0, kit="K1"))
    _run(tell, 40, "run 3", (("R06", "A"), ("R07", "B")), _baths(1, 2), 39.6, "cold kitchen, window open")
    _run(tell, 45, "run 4", (("R04", "B"),), _baths(1, 2), 41.1, "push by one stop")
    tell(
        45.01,
        RunEvent(
            run="run 4", event="deviation", fields={"what": "late drain", "note": "lid stuck, about 20 s"}
        ),
    )
    tell(48, ParcelMoved(parcel="P1", laboratory="Harbour Lab", rolls=("R08", "R09"), way="sent"))
    tell(
        58,
        ParcelMoved(parcel="P1", laboratory="Harbour Lab", rolls=("R08", "R09"), way="returned", cost=44.0),
    )
    for roll, values in DEPARTURES.items():
        tell(60, Measured(roll=roll, what="departures", result={"schema": "wetside.departures/1", **values}))


def _strips(tell: Tell) -> None:
    """A batch of home control strips: one through a laboratory, then one beside each run."""
    tell(
        4,
        StripBatch(
            batch="S1", stock="DAY90", gauge="135", strips=18, steps=(1, 3, 4, 6), camera="half-frame still"
        ),
    )
    for day, run, away in STRIPS:
        values: dict[str, dict[str, float]] = {
            k: {c: round(AIM[k][i] + away[k][i], 3) for i, c in enumerate("rgb")}
            for k in ("dmin", "ld", "hd")
        }
        values["md"] = {
            c: round(AIM["md"][i] + (away["ld"][i] + away["hd"][i]) / 2, 3) for i, c in enumerate("rgb")
        }
        reads = StripRead(
            batch="S1",
            run=run,
            reference=not run,
            dmin=values["dmin"],
            ld=values["ld"],
            md=values["md"],
            hd=values["hd"],
            spread=dict.fromkeys("rgb", 0.004),
            light="tablet under opal",
            scanner="copy stand",
            note="" if run else "through the laboratory",
        )
        tell(day, reads)


def _flat(dmin: float, ld: float, contrast: float) -> dict[str, dict[str, float]]:
    return {key: dict.fromkeys("rgb", v) for key, v in (("dmin", dmin), ("ld", ld), ("hd_ld", contrast))}


#: Read on home control strips that ran beside the rolls, against the laboratory reference R09. Invented, as all of this.
DEPARTURES = {
    "R03": {"dmin": {"r": 0.02, "g": 0.02, "b": 0.03}, "ld": {"r": 0.08, "g": 0.09, "b": 0.08}, "hd_ld": {"r": 0.15, "g": 0.16, "b": 0.17}},
    "R04": {"dmin": {"r": 0.01, "g": 0.02, "b": 0.02}, "ld": {"r": 0.10, "g": 0.09, "b": 0.11}, "hd_ld": {"r": 0.13, "g": 0.11, "b": 0.14}},
    "R06": {"dmin": {"r": 0.0, "g": -0.01, "b": 0.0}, "ld": {"r": -0.05, "g": -0.04, "b": -0.06}, "hd_ld": {"r": -0.10, "g": -0.09, "b": -0.12}},
    "R09": _flat(0.0, 0.01, 0.0),
}  # fmt: skip
#: Camera densities of the strip that went through the laboratory: the aim of batch S1.
AIM = {
    "dmin": (0.22, 0.56, 0.82),
    "ld": (0.44, 0.82, 1.08),
    "md": (0.72, 1.13, 1.40),
    "hd": (1.02, 1.46, 1.75),
}
#: Day, run and departures of each strip from the aim.
STRIPS = (
    (18, "", {"dmin": (0, 0, 0), "ld": (0, 0, 0), "hd": (0, 0, 0)}),
    (20.1, "run 1", {"dmin": (0.0, 0.01, 0.0), "ld": (0.01, 0.0, 0.01), "hd": (0.01, 0.01, 0.02)}),
    (24.1, "run 2", {"dmin": (0.02, 0.02, 0.03), "ld": (0.08, 0.09, 0.08), "hd": (0.23, 0.25, 0.25)}),
    (40.1, "run 3", {"dmin": (0.0, -0.01, 0.0), "ld": (-0.05, -0.04, -0.06), "hd": (-0.15, -0.13, -0.18)}),
    (45.1, "run 4", {"dmin": (0.01, 0.02, 0.02), "ld": (0.10, 0.09, 0.11), "hd": (0.23, 0.20, 0.25)}),
)  # fmt: skip
